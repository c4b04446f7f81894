"""Answers as a dairy would get them, for pictures: an invented room, wheel and blend."""

import math
import random
from datetime import UTC, date, datetime, timedelta

import msgspec

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    Ages,
    AirFigures,
    AirSpell,
    ClimateAnswer,
    ConditionPath,
    ConditionsAnswer,
    Doubt,
    Handling,
    HourOfAir,
    HumidityFigures,
    OutsideMinutes,
    RoomLimits,
    SensorSpan,
    SixtyDays,
    StayConditions,
    TemperatureFigures,
    UnobservedSpan,
)

__all__ = ["START", "blend", "room_strip", "season_strip", "strange_room", "wheel_life"]

START = datetime(2026, 9, 3, tzinfo=UTC)
_RULE = "trapezoid"
_HOUR, _DAY = timedelta(hours=1), timedelta(days=1)


def room_strip() -> ClimateAnswer:
    """Give four weeks of a ripening room, hour by hour.

    The compressor fails for a night, a door is left open, one gap, one sensor is stuck, and the
    limits are drawn closer in the third week.
    """
    until = START + 28 * _DAY
    failure = (START + 9.75 * _DAY, START + 10.4 * _DAY)
    door = (START + 17.4 * _DAY, START + 17.6 * _DAY)
    gap = (START + 21.2 * _DAY, START + 23 * _DAY)
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
        series.append(_hour(at, 10.4 + warmth, 93 + damp, 1.0))
    change = START + 14 * _DAY
    return ClimateAnswer(
        room="R2",
        name="Ripening room 2, the old cellar",
        site="QM",
        from_at=START,
        until_at=until,
        as_of=2114,
        safety_note=SAFETY_NOTE,
        rule=_RULE,
        longest_gap_minutes=90,
        figures=_figures(
            28 * 24,
            43.2,
            10.5,
            93.1,
            [
                _spell("too_warm", "R2", failure, 12.0, 15.9),
                _spell("too_dry", "R2", door, 88.0, 77.9),
            ],
        ),
        limits=[
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
        ],
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
        series.append(_hour(START + number * _DAY, mean, 93 + dice.uniform(-2, 2), 24.0, wide=1.1))
    spells = []
    for _ in range(14):
        begin = START + dice.uniform(0, 83) * _DAY
        ends = (begin, begin + dice.uniform(0.3, 9) * _HOUR)
        spells.append(_spell("too_warm", "R2", ends, 12.0, dice.uniform(12.1, 14)))
        dry = (ends[0] + 2 * _HOUR, ends[1] + 2 * _HOUR)
        spells.append(_spell("too_damp", "R2", dry, 97.0, dice.uniform(97.2, 99.9)))
    spells.append(_spell("too_cold", "R2", (START + 44 * _DAY, START + 46 * _DAY), 9.0, 7.4))
    gaps = [(12.1, 12.4), (40.0, 41.3), (70.2, 70.9)]
    limits = answer.limits[-1]
    return ClimateAnswer(
        room="R2",
        name=answer.name,
        site="QM",
        from_at=START,
        until_at=until,
        as_of=2114,
        safety_note=SAFETY_NOTE,
        rule=_RULE,
        longest_gap_minutes=90,
        figures=_figures(84 * 24, 55.2, 10.5, 93.0, sorted(spells, key=lambda one: one.from_at)),
        limits=[
            answer.limits[0],
            RoomLimits(
                from_at=limits.from_at,
                until_at=until,
                least_c=9.0,
                most_c=12.0,
                least_humidity_pct=90.0,
                most_humidity_pct=97.0,
            ),
        ],
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


def wheel_life() -> ConditionsAnswer:
    """Give eleven weeks of a wheel, made, moved through five rooms, cut and sold."""
    return ConditionsAnswer(
        lot="QM26246P0017K",
        kind="portion",
        at=START + 90 * _DAY,
        as_of=2114,
        safety_note=SAFETY_NOTE,
        rule=_RULE,
        longest_gap_minutes=90,
        paths=[life_path(["QM26246W0011X", "QM26246P0017K"])],
        in_words="Ripened 11 weeks, mostly at 10.6 °C and 93 % relative humidity.",
        product="QB-QUARTER",
        product_name="Quillmere Blue, quarter",
        notes=["One move was told three weeks after it was made."],
    )


def blend() -> ConditionsAnswer:
    """Give a crumble of eight wheels."""
    paths = [life_path([f"QM26246W00{n}X", f"QM26300T00{n}A"], seed=n) for n in range(10, 18)]
    return ConditionsAnswer(
        lot="QM26305B0001C",
        kind="blend",
        at=START + 90 * _DAY,
        as_of=2114,
        safety_note=SAFETY_NOTE,
        rule=_RULE,
        longest_gap_minutes=90,
        paths=paths,
        in_words="Worked from eight lots; the first ripened 11 weeks at 10.6 °C.",
        product_name="Quillmere Blue, crumble",
        paths_left_out=3,
    )


def life_path(lots: list[str], seed: int = 1) -> ConditionPath:
    """Give one way from a wheel on: the same rooms for all, other readings for each."""
    dice = random.Random(seed)
    rooms = [
        ("MAKE", "Making room", 0, 2, 20.5, 80),
        ("DRY", "Drying room", 2, 6, 14.0, 85),
        ("R2", "Ripening room 2", 6, 37, 10.5, 94),
        ("R3", "Ripening room 3", 37, 49, 9.4, 95),
        (None, None, 49, 50.5, 9.4, 95),
        ("R2", "Ripening room 2", 50.5, 70, 10.5, 94),
        ("COLD", "Cold store", 70, 79, 4.0, 86),
    ]
    series, stays = [], []
    for room, name, begin, end, mean_c, mean_pct in rooms:
        figures = _figures(
            (end - begin) * 24, 0 if room else (end - begin) * 24, mean_c, mean_pct, []
        )
        stays.append(
            StayConditions(
                lot=lots[0] if begin < 75 else lots[-1],
                site="QM",
                room=room,
                room_name=name,
                from_at=START + begin * _DAY,
                until_at=START + end * _DAY,
                figures=figures,
            )
        )
        day = begin
        while room and day < end:
            at = START + day * _DAY
            span = min(math.floor(day) + 1, end) - day
            if not 27 <= day < 29:
                warm, damp = mean_c + dice.uniform(-0.4, 0.4), mean_pct + dice.uniform(-2, 2)
                series.append(_hour(at, warm, damp, span * 24, wide=0.7))
            day += span
    fridge = (START + 58 * _DAY, START + 58.6 * _DAY)
    return ConditionPath(
        lots=lots,
        from_at=START + 0.2 * _DAY,
        until_at=START + 79 * _DAY,
        stays=stays,
        figures=_figures(79 * 24, 84, 10.6, 93, [_spell("too_warm", "R2", fridge, 12.0, 14.8)]),
        ages=Ages(
            counted_from=START,
            counted_from_what="make",
            at_piercing_days=21,
            at_cutting_days=75,
            at_sale_days=79,
        ),
        handlings=_handlings(lots),
        unobserved=[
            UnobservedSpan(
                why="no_reading",
                from_at=START + 27 * _DAY,
                until_at=START + 29 * _DAY,
                hours=48,
                room="R2",
            ),
            UnobservedSpan(
                why="no_room", from_at=START + 49 * _DAY, until_at=START + 50.5 * _DAY, hours=36
            ),
        ],
        doubts=[
            Doubt(
                sensor="S-R3-1",
                kind="jump",
                from_at=START + 40 * _DAY,
                until_at=START + 40.3 * _DAY,
                detail="9.4 °C to 17.0 °C within 5 minutes and back",
            )
        ],
        series=series,
        sixty_days=SixtyDays(
            regulation="21 CFR 133.106",
            read_on=date(2026, 3, 2),
            asked_days=60,
            least_c=1.67,
            counted_until=START + 79 * _DAY,
            counted_until_what="sale",
            days=79.0,
            days_over=19.0,
            below_hours=0.0,
            unobserved_hours=84.0,
            wording="79 days from the make to the sale, 19 more than the 60 asked; colder than "
            "1.67 °C for 0 h, not observed for 84 h.",
            applies=True,
            milk_treatment="raw",
        ),
        make="QM26246V0001P",
    )


def _handlings(lots: list[str]) -> list[Handling]:
    done = [("turn", day) for day in (*range(1, 12), *range(13, 70, 3))]
    done += [("brush", day) for day in (30, 44, 58)]
    done += [("rub", 16), ("pierce", 21), ("pierce", 33), ("iron", 62), ("cut", 75), ("sale", 79)]
    done += [("weigh", day) for day in (1, 14, 28, 42, 56, 70)]
    return [
        Handling(
            kind=kind,
            lot=lots[0] if day < 75 else lots[-1],
            at=START + (day + 0.4) * _DAY if day < 79 else START + 79 * _DAY,
            age_days=day + (0.4 if day < 79 else 0),
            event_id="019906a0-0000-7000-8000-000000000000",
            holes=48 if kind == "pierce" else None,
            mass_g=round(2480 - 4.2 * day) if kind == "weigh" else None,
            body=4 if kind == "iron" else None,
            texture=5 if kind == "iron" else None,
            blueing=4 if kind == "iron" else None,
            grade="A" if kind == "iron" else None,
        )
        for kind, day in sorted(done, key=lambda one: one[1])
    ]


def _hour(
    at: datetime, mean_c: float, mean_pct: float, hours: float, wide: float = 0.3
) -> HourOfAir:
    return HourOfAir(
        at=at,
        hours=hours,
        mean_c=mean_c,
        least_c=mean_c - wide,
        most_c=mean_c + wide,
        mean_humidity_pct=mean_pct,
        least_humidity_pct=mean_pct - 4 * wide,
        most_humidity_pct=min(mean_pct + 3 * wide, 100),
        observed_minutes=hours * 60,
    )


def _spell(
    what: str, room: str, ends: tuple[datetime, datetime], limit: float, worst: float
) -> AirSpell:
    of_c = what in ("too_cold", "too_warm")
    return AirSpell(
        what=what,
        room=room,
        from_at=ends[0],
        until_at=ends[1],
        minutes=(ends[1] - ends[0]) / timedelta(minutes=1),
        limit_c=limit if of_c else None,
        worst_c=worst if of_c else None,
        limit_humidity_pct=None if of_c else limit,
        worst_humidity_pct=None if of_c else worst,
    )


def _figures(
    hours: float, unobserved: float, mean_c: float, mean_pct: float, spells: list[AirSpell]
) -> AirFigures:
    seen = hours - unobserved
    minutes = {
        f"{what}_minutes": math.fsum(one.minutes for one in spells if one.what == what)
        for what in ("too_cold", "too_warm", "too_dry", "too_damp")
    }
    if seen <= 0:
        return AirFigures(
            hours=hours,
            observed_hours=0,
            unobserved_hours=hours,
            humidity_observed_hours=0,
            readings=0,
            degree_hours_base_c=8,
        )
    return AirFigures(
        hours=hours,
        observed_hours=seen,
        unobserved_hours=unobserved,
        humidity_observed_hours=seen,
        readings=round(seen * 24),
        degree_hours_base_c=8,
        degree_hours_c_h=max(mean_c - 8, 0) * seen,
        doubtful_hours=60 if spells else 0,
        temperature=TemperatureFigures(
            mean_c=mean_c,
            least_c=mean_c - 0.9,
            most_c=mean_c + 5.4,
            p05_c=mean_c - 0.6,
            p50_c=mean_c,
            p95_c=mean_c + 0.9,
        ),
        humidity=HumidityFigures(
            mean_pct=mean_pct,
            least_pct=mean_pct - 15.2,
            most_pct=min(mean_pct + 4, 100),
            p05_pct=mean_pct - 3,
            p50_pct=mean_pct,
            p95_pct=min(mean_pct + 3, 100),
        ),
        dew_point_mean_c=mean_c - 1.1,
        vapour_pressure_deficit_mean_kpa=0.088,
        vapour_pressure_deficit_kpa_h=0.088 * seen,
        mean_kinetic_temperature_c=mean_c + 0.2,
        outside=OutsideMinutes(**minutes),
        spells=spells,
        spell_count=len(spells),
    )
