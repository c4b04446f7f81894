"""Answers about air for the SDK's tests; rooms, wheels and weather are invented."""

from datetime import date, datetime, timedelta
from math import cos, pi

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
    SensorPage,
    SensorSpan,
    SensorState,
    SixtyDays,
    StayConditions,
    TemperatureFigures,
    UnobservedSpan,
)
from tests.sdk.samples import AT, MAKE, PORTION, WHEEL, code

__all__ = ["CLIMATE", "CONDITIONS", "SENSORS", "figures", "hours"]

_HOUR = timedelta(hours=1)
UNTIL = AT + timedelta(days=42)
MOVED = AT + timedelta(days=3)
COLD = AT + timedelta(days=30)


def _spell(what: str, room: str, from_at: datetime, hours: float) -> AirSpell:
    return AirSpell(
        what=what,
        room=room,
        from_at=from_at,
        until_at=from_at + timedelta(hours=hours),
        minutes=hours * 60,
        limit_c=14.0,
        worst_c=19.5,
    )


WARM = _spell("too_warm", "CAVE-1", AT + timedelta(days=10), 36)
DRY = AirSpell(
    what="too_dry",
    room="CAVE-1",
    from_at=AT + timedelta(days=20),
    until_at=AT + timedelta(days=21),
    minutes=1440,
    limit_humidity_pct=88.0,
    worst_humidity_pct=71.0,
)
GAP = UnobservedSpan(
    why="no_reading", room="CAVE-1", from_at=COLD, until_at=COLD + 48 * _HOUR, hours=48.0
)
STUCK = Doubt(
    sensor="S-2",
    kind="stuck",
    from_at=AT + timedelta(days=5),
    until_at=AT + timedelta(days=6),
    detail="showed 9.4 for 24 hours",
)


def figures(hours: float, mean_c: float = 11.5, unseen: float = 0.0) -> AirFigures:
    """Give figures of some hours."""
    return AirFigures(
        hours=hours,
        observed_hours=hours - unseen,
        unobserved_hours=unseen,
        humidity_observed_hours=hours - unseen,
        readings=int(hours * 12),
        degree_hours_base_c=8.0,
        degree_hours_c_h=512.3,
        doubtful_hours=24.0,
        temperature=TemperatureFigures(
            mean_c=mean_c, least_c=8.1, most_c=19.5, p05_c=9.0, p50_c=11.4, p95_c=13.9
        ),
        humidity=HumidityFigures(
            mean_pct=92.4, least_pct=71.0, most_pct=99.0, p05_pct=86.0, p50_pct=93.0, p95_pct=97.5
        ),
        dew_point_mean_c=10.31,
        vapour_pressure_deficit_mean_kpa=0.1052,
        vapour_pressure_deficit_kpa_h=106.0,
        mean_kinetic_temperature_c=11.83,
        outside=OutsideMinutes(too_warm_minutes=2160.0, too_dry_minutes=1440.0),
        spells=[WARM, DRY],
        spell_count=2,
    )


def hours(from_at: datetime, until_at: datetime) -> list[HourOfAir]:
    """Give the air by hours: waves of a day, the two spells, and nothing in the gap."""
    found = []
    for number in range(int((until_at - from_at) / _HOUR)):
        at = from_at + number * _HOUR
        if GAP.from_at <= at < GAP.until_at:
            continue
        warm = WARM.from_at <= at < WARM.until_at
        dry = DRY.from_at <= at < DRY.until_at
        mean_c = 19.0 if warm else 11.0 - 2 * cos(pi * number / 300)
        found.append(
            HourOfAir(
                at=at,
                hours=1.0,
                room="CAVE-1",
                mean_c=mean_c,
                least_c=mean_c - 0.2,
                most_c=mean_c + 0.2,
                mean_humidity_pct=72.0 if dry else 93.0,
                least_humidity_pct=71.0 if dry else 92.0,
                most_humidity_pct=73.0 if dry else 94.0,
                observed_minutes=60.0,
                outside_minutes=60.0 if warm or dry else 0.0,
            )
        )
    return found


SENSOR = SensorSpan(
    sensor="S-1",
    from_at=AT,
    until_at=UNTIL,
    offset_c=-0.3,
    told_at=AT + timedelta(days=12),
    told_later=True,
)
NOTE = "The offset of S-1 was declared on 2026-02-15 for readings that were there before."

CLIMATE = ClimateAnswer(
    room="CAVE-1",
    name="The first cave",
    site="QM",
    from_at=AT,
    until_at=UNTIL,
    as_of=41,
    safety_note=SAFETY_NOTE,
    rule="trapezoid between readings",
    longest_gap_minutes=90.0,
    figures=figures(1008.0, unseen=48.0),
    limits=[
        RoomLimits(
            from_at=AT,
            until_at=UNTIL,
            least_c=8.0,
            most_c=14.0,
            least_humidity_pct=88.0,
            most_humidity_pct=98.0,
        )
    ],
    sensors=[SENSOR],
    unobserved=[GAP],
    doubts=[STUCK],
    series=hours(AT, UNTIL),
    notes=[NOTE],
)

_DONE = [
    *(
        Handling(
            kind="turn", lot=WHEEL, at=AT + timedelta(days=day), age_days=day, event_id=f"t{day}"
        )
        for day in range(1, 42)
    ),
    Handling(
        kind="pierce",
        lot=WHEEL,
        at=AT + timedelta(days=21),
        age_days=21.0,
        event_id="p",
        tool="NEEDLES",
        holes=60,
    ),
    Handling(
        kind="weigh",
        lot=WHEEL,
        at=AT + timedelta(days=28),
        age_days=28.0,
        event_id="w",
        mass_g=8_512,
    ),
    Handling(
        kind="iron",
        lot=WHEEL,
        at=AT + timedelta(days=35),
        age_days=35.0,
        event_id="i",
        blueing=4,
        flavour=5,
        grade="A",
    ),
    Handling(
        kind="cut", lot=WHEEL, at=AT + timedelta(days=41, hours=12), age_days=41.5, event_id="c"
    ),
]

PATH = ConditionPath(
    lots=[WHEEL, PORTION],
    from_at=AT,
    until_at=UNTIL,
    stays=[
        StayConditions(
            lot=WHEEL,
            site="QM",
            room="HOOPING",
            room_name="Hooping room",
            from_at=AT,
            until_at=MOVED,
            figures=figures(72.0, 19.8),
        ),
        StayConditions(
            lot=WHEEL,
            site="QM",
            room="CAVE-1",
            room_name="The first cave",
            from_at=MOVED,
            until_at=UNTIL - 6 * _HOUR,
            figures=figures(930.0, 10.9, unseen=48.0),
        ),
        StayConditions(
            lot=PORTION,
            site="QM",
            room="CUTTING",
            from_at=UNTIL - 6 * _HOUR,
            until_at=UNTIL,
            figures=figures(6.0, 12.0),
            still_there=True,
        ),
    ],
    figures=figures(1008.0, 11.5, unseen=48.0),
    ages=Ages(
        counted_from=AT,
        counted_from_what="make",
        at_piercing_days=21,
        at_cutting_days=41,
        now_days=42,
    ),
    handlings=sorted(_DONE, key=lambda done: done.at),
    unobserved=[GAP],
    doubts=[STUCK],
    sensors=[SENSOR],
    series=hours(AT, UNTIL),
    sixty_days=SixtyDays(
        regulation="21 CFR 133",
        read_on=date(2026, 1, 7),
        asked_days=60,
        least_c=1.67,
        counted_until=UNTIL,
        counted_until_what="now",
        days=42.0,
        days_over=-18.0,
        below_hours=0.0,
        unobserved_hours=48.0,
        wording="42.0 days of the 60 asked have passed, 18.0 are missing; 48.0 h not observed.",
        applies=True,
        milk_treatment="raw",
    ),
    make=MAKE,
)

CONDITIONS = ConditionsAnswer(
    lot=PORTION,
    kind="portion",
    at=UNTIL,
    as_of=41,
    safety_note=SAFETY_NOTE,
    rule="trapezoid between readings",
    longest_gap_minutes=90.0,
    paths=[PATH],
    in_words="Ripened 6 weeks at 11.5 °C and 92 % relative humidity.",
    product="QB-WEDGE",
    product_name="Quillmere Blue, wedge",
    notes=[NOTE],
)

SENSORS = SensorPage(
    sensors=[
        SensorState(
            sensor="S-1",
            name="By the door",
            room="CAVE-1",
            site="QM",
            since=AT,
            last_at=UNTIL,
            last_temperature_c=11.1,
            last_humidity_pct=93.0,
            silent_minutes=4.0,
        ),
        SensorState(
            sensor="S-2", name="At the back", room="CAVE-1", site="QM", since=AT, doubts=[STUCK]
        ),
    ],
    as_of=41,
)

SECOND = code("wheel", 2)
"""Another wheel, for a blend's second path."""
