"""The air of a room as a dairy would be answered, for pictures: an invented cellar."""

import math
import random
from datetime import UTC, datetime, timedelta

import msgspec

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    ClimateAnswer,
    Doubt,
    HourOfAir,
    RoomLimits,
    SensorSpan,
    UnobservedSpan,
)
from tests.pages.sample_air import figures_of, hour_of, spell_of

__all__ = ["START", "room_strip", "season_strip", "strange_room"]

START = datetime(2026, 9, 3, tzinfo=UTC)
_HOUR, _DAY = timedelta(hours=1), timedelta(days=1)
_Ends = tuple[datetime, datetime]


def room_strip() -> ClimateAnswer:
    """Give four weeks of a ripening room, hour by hour.

    The compressor fails for a night, a door is left open, one gap, one sensor is stuck, and the
    limits are drawn closer in the third week.
    """
    until = START + 28 * _DAY
    failure = (START + 9.75 * _DAY, START + 10.4 * _DAY)
    door = (START + 17.4 * _DAY, START + 17.6 * _DAY)
    gap = (START + 21.2 * _DAY, START + 23 * _DAY)
    series = _hours_of_four_weeks(failure, door, gap)
    change = START + 14 * _DAY
    return ClimateAnswer(
        room="R2",
        name="Ripening room 2, the old cellar",
        site="QM",
        from_at=START,
        until_at=until,
        as_of=2114,
        safety_note=SAFETY_NOTE,
        rule="trapezoid",
        longest_gap_minutes=90,
        figures=figures_of(
            28 * 24,
            43.2,
            10.5,
            93.1,
            [
                spell_of("too_warm", "R2", failure, 12.0, 15.9),
                spell_of("too_dry", "R2", door, 88.0, 77.9),
            ],
        ),
        limits=_limits(change, until),
        sensors=[
            SensorSpan(sensor="S-R2-1", from_at=START, until_at=until, offset_c=0.3),
            SensorSpan(sensor="S-R2-2", from_at=START, until_at=until),
        ],
        unobserved=[
            UnobservedSpan(why="no_reading", from_at=gap[0], until_at=gap[1], hours=43.2, room="R2")
        ],
        doubts=[
            Doubt(
                sensor="S-R2-2",
                kind="stuck",
                from_at=START + 3 * _DAY,
                until_at=START + 5.5 * _DAY,
                detail="showed 10.812 °C 721 times running",
            )
        ],
        series=series,
        notes=[
            "Offset +0.3 °C of sensor S-R2-1 was declared on 20 Sep, after readings it applies to.",
            "For 43.2 hours there is no reading; figures hold for the other time.",
        ],
    )


def season_strip() -> ClimateAnswer:
    """Give twelve weeks of the same room, day by day, with three short gaps and more spells."""
    answer = room_strip()
    until = START + 84 * _DAY
    dice = random.Random(5)
    series = []
    for number in range(84):
        mean = 10.4 + math.sin(number / 9) * 0.5
        series.append(
            hour_of(START + number * _DAY, mean, 93 + dice.uniform(-2, 2), 24.0, wide=1.1)
        )
    spells = []
    for _ in range(14):
        begin = START + dice.uniform(0, 83) * _DAY
        ends = (begin, begin + dice.uniform(0.3, 9) * _HOUR)
        spells.append(spell_of("too_warm", "R2", ends, 12.0, dice.uniform(12.1, 14)))
        dry = (ends[0] + 2 * _HOUR, ends[1] + 2 * _HOUR)
        spells.append(spell_of("too_damp", "R2", dry, 97.0, dice.uniform(97.2, 99.9)))
    spells.append(spell_of("too_cold", "R2", (START + 44 * _DAY, START + 46 * _DAY), 9.0, 7.4))
    gaps = [(12.1, 12.4), (40.0, 41.3), (70.2, 70.9)]
    return ClimateAnswer(
        room="R2",
        name=answer.name,
        site="QM",
        from_at=START,
        until_at=until,
        as_of=2114,
        safety_note=SAFETY_NOTE,
        rule="trapezoid",
        longest_gap_minutes=90,
        figures=figures_of(84 * 24, 55.2, 10.5, 93.0, sorted(spells, key=lambda one: one.from_at)),
        limits=_limits(START + 14 * _DAY, until),
        unobserved=[
            UnobservedSpan(
                why="no_reading",
                from_at=START + a * _DAY,
                until_at=START + b * _DAY,
                hours=(b - a) * 24,
                room="R2",
            )
            for a, b in gaps
        ],
        doubts=answer.doubts,
        series=series,
        notes=answer.notes,
    )


def strange_room() -> ClimateAnswer:
    """Give a room whose names and notes are long, in many scripts, or one endless word."""
    return msgspec.structs.replace(
        room_strip(),
        name="Gr\u00fc\u00dfe \u65e5\u672c\u306e\u90e8\u5c4b \ufdfd \U0001f9c0 " + "W" * 90,
        notes=["\u0645\u0631\u062d\u0628\u0627 " * 12, "\u65e5\u672c" * 60, "i" * 400, "M" * 90],
    )


def _hours_of_four_weeks(failure: _Ends, door: _Ends, gap: _Ends) -> list[HourOfAir]:
    """Give the room hour by hour: daily waves, noise, and what befell it."""
    series = []
    dice = random.Random(4)
    for number in range(28 * 24):
        at = START + number * _HOUR
        if gap[0] <= at < gap[1]:
            continue
        warmth = 0.4 * math.sin(number / 24 * 2 * math.pi) + dice.uniform(-0.25, 0.25)
        damp = 1.2 * math.sin(number / 31) + dice.uniform(-0.8, 0.8)
        if failure[0] <= at < failure[1]:
            warmth += 5.2 * math.sin((at - failure[0]) / (failure[1] - failure[0]) * math.pi)
        if door[0] <= at < door[1]:
            damp -= 14
            warmth += 1.4
        series.append(hour_of(at, 10.4 + warmth, 93 + damp, 1.0))
    return series


def _limits(change: datetime, until: datetime) -> list[RoomLimits]:
    """Give limits that are drawn closer at a time."""
    return [
        RoomLimits(
            from_at=START,
            until_at=change,
            least_c=8.0,
            most_c=12.0,
            least_humidity_pct=88.0,
            most_humidity_pct=98.0,
        ),
        RoomLimits(
            from_at=change,
            until_at=until,
            least_c=9.0,
            most_c=12.0,
            least_humidity_pct=90.0,
            most_humidity_pct=97.0,
        ),
    ]
