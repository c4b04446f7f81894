"""Lives of lots as a dairy would be answered, for pictures: an invented portion and blend."""

import math
import random
from datetime import date, timedelta

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    Ages,
    ConditionPath,
    ConditionsAnswer,
    Doubt,
    Handling,
    HourOfAir,
    SixtyDays,
    StayConditions,
    UnobservedSpan,
)
from tests.pages.sample_air import figures_of, hour_of, spell_of
from tests.pages.samples import START

__all__ = ["blend", "wheel_life"]

_DAY = timedelta(days=1)
_ROOMS: list[tuple[str | None, str | None, float, float, float, float]] = [
    ("MAKE", "Making room", 0, 2, 20.5, 80),
    ("DRY", "Drying room", 2, 6, 14.0, 85),
    ("R2", "Ripening room 2", 6, 37, 10.5, 94),
    ("R3", "Ripening room 3", 37, 49, 9.4, 95),
    (None, None, 49, 50.5, 9.4, 95),
    ("R2", "Ripening room 2", 50.5, 70, 10.5, 94),
    ("COLD", "Cold store", 70, 79, 4.0, 86),
]


def wheel_life() -> ConditionsAnswer:
    """Give eleven weeks of a wheel, made, moved through five rooms, cut and sold."""
    return ConditionsAnswer(
        lot="QM26246P0017K",
        kind="portion",
        at=START + 90 * _DAY,
        as_of=2114,
        safety_note=SAFETY_NOTE,
        rule="trapezoid",
        longest_gap_minutes=90,
        paths=[_life_path(["QM26246W0011X", "QM26246P0017K"])],
        in_words="Ripened 11 weeks, mostly at 10.6 °C and 93 % relative humidity.",
        product="QB-QUARTER",
        product_name="Quillmere Blue, quarter",
        notes=["One move was told three weeks after it was made."],
    )


def blend() -> ConditionsAnswer:
    """Give a crumble of eight wheels."""
    paths = [_life_path([f"QM26246W00{n}X", f"QM26300T00{n}A"], seed=n) for n in range(10, 18)]
    return ConditionsAnswer(
        lot="QM26305B0001C",
        kind="blend",
        at=START + 90 * _DAY,
        as_of=2114,
        safety_note=SAFETY_NOTE,
        rule="trapezoid",
        longest_gap_minutes=90,
        paths=paths,
        in_words="Worked from eight lots; the first ripened 11 weeks at 10.6 °C.",
        product_name="Quillmere Blue, crumble",
        paths_left_out=3,
    )


def _life_path(lots: list[str], seed: int = 1) -> ConditionPath:
    """Give one way from a wheel on: the same rooms for all, other readings for each."""
    dice = random.Random(seed)
    stays, series = _stays_and_air(lots, dice)
    fridge = (START + 58 * _DAY, START + 58.6 * _DAY)
    return ConditionPath(
        lots=lots,
        from_at=START + 0.2 * _DAY,
        until_at=START + 79 * _DAY,
        stays=stays,
        figures=figures_of(79 * 24, 84, 10.6, 93, [spell_of("too_warm", "R2", fridge, 12.0, 14.8)]),
        ages=Ages(
            counted_from=START,
            counted_from_what="make",
            at_piercing_days=21,
            at_cutting_days=75,
            at_sale_days=79,
        ),
        handlings=_handlings(lots),
        unobserved=_unobserved(),
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
        sixty_days=_sixty_days(),
        make="QM26246V0001P",
    )


def _stays_and_air(
    lots: list[str], dice: random.Random
) -> tuple[list[StayConditions], list[HourOfAir]]:
    series: list[HourOfAir] = []
    stays: list[StayConditions] = []
    for room, name, begin, end, mean_c, mean_pct in _ROOMS:
        figures = figures_of(
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
                series.append(hour_of(at, warm, damp, span * 24, wide=0.7))
            day += span
    return stays, series


def _unobserved() -> list[UnobservedSpan]:
    return [
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
    ]


def _sixty_days() -> SixtyDays:
    return SixtyDays(
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
