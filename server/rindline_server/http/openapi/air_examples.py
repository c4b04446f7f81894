"""Examples of readings, of the air of rooms, and of what wheels lived in."""

from datetime import date, timedelta
from typing import Any

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    Ages,
    AirFigures,
    AirSpell,
    ClimateAnswer,
    ComparedGroup,
    ComparedMeasure,
    ComparisonAnswer,
    ConditionPath,
    ConditionsAnswer,
    CorridorPoint,
    Difference,
    Doubt,
    Handling,
    HourOfAir,
    HumidityFigures,
    LossPoint,
    OutsideMinutes,
    Reading,
    ReadingBatch,
    ReadingsAnswer,
    RefusedReading,
    RoomLimits,
    SensorPage,
    SensorSpan,
    SensorState,
    SideOfWheels,
    SixtyDays,
    StayConditions,
    TemperatureFigures,
    UnobservedSpan,
    VapourLoss,
    WeightLossAnswer,
    WheelLoss,
)
from rindline_schema.problems import make_problem
from rindline_server.http.openapi.event_examples import (
    MAKE,
    PORTION,
    WHEEL,
    example_id,
    example_time,
)

__all__ = ["AIR_ANSWERS", "AIR_BODIES"]

_SENSOR, _ROOM = "S-RIPE", "RIPE-1"
_RULE = "trapezoid between readings, whole hours and changes of declarations"
_DOUBT = Doubt(
    sensor=_SENSOR,
    kind="stuck",
    from_at=example_time(40),
    until_at=example_time(42),
    detail="12.1 °C and 91.5 % for 48 hours, to the last digit.",
)
_SPELL = AirSpell(
    what="too_warm",
    room=_ROOM,
    from_at=example_time(20, 3),
    until_at=example_time(20, 9),
    minutes=360.0,
    limit_c=14.0,
    worst_c=17.4,
)
_GAP = UnobservedSpan(
    why="no_reading",
    room=_ROOM,
    from_at=example_time(30),
    until_at=example_time(30, 11),
    hours=11.0,
)
_FIGURES = AirFigures(
    hours=1_536.0,
    observed_hours=1_525.0,
    unobserved_hours=11.0,
    humidity_observed_hours=1_525.0,
    readings=18_300,
    degree_hours_base_c=8.0,
    degree_hours_c_h=6_252.5,
    doubtful_hours=48.0,
    temperature=TemperatureFigures(
        mean_c=12.1, least_c=10.9, most_c=17.4, p05_c=11.4, p50_c=12.1, p95_c=12.9
    ),
    humidity=HumidityFigures(
        mean_pct=91.2, least_pct=84.0, most_pct=96.0, p05_pct=87.5, p50_pct=91.5, p95_pct=94.0
    ),
    dew_point_mean_c=10.7,
    vapour_pressure_deficit_mean_kpa=0.124,
    vapour_pressure_deficit_kpa_h=189.1,
    mean_kinetic_temperature_c=12.2,
    outside=OutsideMinutes(too_warm_minutes=360.0),
    spells=[_SPELL],
    spell_count=1,
)
_HOUR = HourOfAir(
    at=example_time(6),
    hours=1.0,
    room=_ROOM,
    mean_c=12.0,
    least_c=11.8,
    most_c=12.2,
    mean_humidity_pct=91.0,
    least_humidity_pct=90.0,
    most_humidity_pct=92.0,
    observed_minutes=60.0,
)
_SPAN = SensorSpan(
    sensor=_SENSOR,
    from_at=example_time(6),
    until_at=example_time(70),
    offset_c=0.3,
    told_at=example_time(71),
    told_later=True,
)
_NOTES = [
    "The offset of sensor S-RIPE (+0.3 °C) was told after readings it applies to.",
    "11.0 hours have no reading; the figures say nothing of them.",
]
_CLIMATE = ClimateAnswer(
    room=_ROOM,
    name="Ripening room",
    site="QM",
    from_at=example_time(6),
    until_at=example_time(70),
    as_of=14_230,
    safety_note=SAFETY_NOTE,
    rule=_RULE,
    longest_gap_minutes=90.0,
    figures=_FIGURES,
    limits=[
        RoomLimits(from_at=example_time(6), until_at=example_time(70), least_c=10.0, most_c=14.0)
    ],
    sensors=[_SPAN],
    unobserved=[_GAP],
    doubts=[_DOUBT],
    series=[_HOUR],
    notes=_NOTES,
)
_SIXTY = SixtyDays(
    regulation="21 CFR 133.106 and 133.187",
    read_on=date(2026, 11, 25),
    asked_days=60,
    least_c=1.67,
    counted_until=example_time(72),
    counted_until_what="sale",
    days=72.0,
    days_over=12.0,
    below_hours=0.0,
    unobserved_hours=11.0,
    wording=(
        "72.0 days from make to sale, 60 asked for: 12.0 more. Colder than 1.67 °C for 0.0 h of "
        "them; 11.0 h without a reading."
    ),
    applies=True,
    milk_treatment="raw",
)
_PATH = ConditionPath(
    lots=[WHEEL, PORTION],
    make=MAKE,
    from_at=example_time(6),
    until_at=example_time(70),
    stays=[
        StayConditions(
            lot=WHEEL,
            site="QM",
            room=_ROOM,
            room_name="Ripening room",
            from_at=example_time(6),
            until_at=example_time(70),
            figures=_FIGURES,
        )
    ],
    figures=_FIGURES,
    ages=Ages(
        counted_from=example_time(0),
        counted_from_what="make",
        at_piercing_days=35,
        at_cutting_days=70,
        at_sale_days=72,
        now_days=80,
    ),
    handlings=[
        Handling(
            kind="pierce",
            lot=WHEEL,
            at=example_time(35),
            age_days=35.0,
            event_id=str(example_id(6, 35)),
            tool="NEEDLES-1",
            holes=120,
        )
    ],
    unobserved=[_GAP],
    doubts=[_DOUBT],
    sensors=[_SPAN],
    sixty_days=_SIXTY,
)

AIR_ANSWERS: dict[str, Any] = {
    "tell_readings": ReadingsAnswer(
        recorded=1,
        repeated=0,
        refused=[
            RefusedReading(
                index=1,
                problem=make_problem("not_declared", "no sensor 'S-RIPF' is declared"),
            )
        ],
    ),
    "sensors": SensorPage(
        sensors=[
            SensorState(
                sensor=_SENSOR,
                name="Ripening room, middle shelf",
                room=_ROOM,
                site="QM",
                since=example_time(-2),
                offset_c=0.3,
                last_at=example_time(70),
                last_temperature_c=12.1,
                last_humidity_pct=91.5,
                silent_minutes=4.0,
                doubts=[_DOUBT],
            )
        ],
        as_of=14_230,
    ),
    "climate": _CLIMATE,
    "conditions": ConditionsAnswer(
        lot=PORTION,
        kind="portion",
        at=example_time(80),
        as_of=14_230,
        safety_note=SAFETY_NOTE,
        rule=_RULE,
        longest_gap_minutes=90.0,
        paths=[_PATH],
        in_words=(
            "Ripened 9 weeks, mostly in the Ripening room, at 12.1 °C and 91 % humidity on average."
        ),
        product="QUILLMERE-BLUE-HALF",
        product_name="Quillmere Blue, half",
        notes=_NOTES,
    ),
    "weight_loss": WeightLossAnswer(
        lot=WHEEL,
        kind="wheel",
        as_of=14_230,
        safety_note=SAFETY_NOTE,
        least_wheels=10,
        product="QUILLMERE-BLUE",
        wheels=[
            WheelLoss(
                lot=WHEEL,
                hooped_at=example_time(1),
                hooped_g=11_000,
                points=[
                    LossPoint(
                        at=example_time(64),
                        age_days=63.0,
                        mass_g=8_030,
                        lost_g=2_970,
                        lost_pct=27.0,
                        corridor="within",
                        lost_since_g=410,
                        vapour_pressure_deficit_kpa_h=41.3,
                        expected_lost_g=396.0,
                    )
                ],
            )
        ],
        corridor=[
            CorridorPoint(age_days=63, wheels=48, low_pct=25.1, median_pct=26.8, high_pct=28.9)
        ],
        explained=VapourLoss(
            wheels=48,
            intervals=203,
            g_per_kg_kpa_h=1.19,
            low_g_per_kg_kpa_h=1.12,
            high_g_per_kg_kpa_h=1.26,
            r_squared=0.83,
        ),
    ),
    "comparison": ComparisonAnswer(
        by="room",
        as_of=14_230,
        safety_note=SAFETY_NOTE,
        split="Well: the upper third by mean score (76 and more); badly: the lower third.",
        wheels=120,
        judged=96,
        least_wheels=8,
        least_makes=4,
        groups=[
            ComparedGroup(
                group=_ROOM,
                name="Ripening room",
                wheels=60,
                judged=48,
                well=21,
                badly=11,
                median_score=74.0,
                measures=[
                    ComparedMeasure(
                        measure="mean_c",
                        wheels=60,
                        median=12.1,
                        low_quartile=12.0,
                        high_quartile=12.3,
                    )
                ],
            )
        ],
        differences=[
            Difference(
                measure="mean_c",
                well=SideOfWheels(wheels=32, makes=9, median=12.0),
                badly=SideOfWheels(wheels=31, makes=8, median=12.6),
                verdict="no_clear_difference",
                in_words="Well judged wheels lay 0.6 °C cooler; the interval includes none.",
                shift=-0.6,
                low_shift=-1.3,
                high_shift=0.2,
                effect=-0.41,
                low_effect=-0.74,
                high_effect=0.09,
            )
        ],
        notes=["A difference is not a cause."],
    ),
}
"""By operation name: an answer."""

AIR_BODIES: dict[str, Any] = {
    "tell_readings": ReadingBatch(
        readings=[
            Reading(
                sensor=_SENSOR,
                at=example_time(70) + timedelta(minutes=5 * number),
                temperature_c=12.1,
                humidity_pct=91.5,
            )
            for number in range(2)
        ]
    ),
}
"""By operation name: a body."""
