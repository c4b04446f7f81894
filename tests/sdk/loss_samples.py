"""Answers about weight loss and comparisons for the SDK's tests; wheels are invented."""

from datetime import timedelta

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    ComparedGroup,
    ComparedMeasure,
    ComparisonAnswer,
    CorridorPoint,
    Difference,
    LossPoint,
    SideOfWheels,
    VapourLoss,
    WeightLossAnswer,
    WheelLoss,
)
from tests.sdk.samples import AT, WHEEL

__all__ = ["COMPARISON", "LOSS"]

LOSS = WeightLossAnswer(
    lot=WHEEL,
    kind="wheel",
    as_of=41,
    safety_note=SAFETY_NOTE,
    wheels=[
        WheelLoss(
            lot=WHEEL,
            hooped_at=AT,
            hooped_g=9_000,
            points=[
                LossPoint(
                    at=AT + timedelta(days=28),
                    age_days=28.0,
                    mass_g=8_100,
                    lost_g=900,
                    lost_pct=10.0,
                    corridor="above",
                    lost_since_g=900,
                    vapour_pressure_deficit_kpa_h=106.0,
                    expected_lost_g=510.4,
                )
            ],
            outside=True,
        )
    ],
    least_wheels=5,
    product="QB-WHEEL",
    corridor=[CorridorPoint(age_days=28, wheels=40, low_pct=4.0, median_pct=5.5, high_pct=7.25)],
    outside=[WHEEL],
    explained=VapourLoss(
        wheels=40,
        intervals=120,
        g_per_kg_kpa_h=0.535,
        low_g_per_kg_kpa_h=0.49,
        high_g_per_kg_kpa_h=0.58,
        r_squared=0.71,
    ),
    notes=["Plugs taken with the iron are added back."],
)

COMPARISON = ComparisonAnswer(
    by="room",
    as_of=41,
    safety_note=SAFETY_NOTE,
    split="by the mean of the scores: the upper third against the lower third",
    wheels=60,
    judged=45,
    least_wheels=8,
    least_makes=3,
    groups=[
        ComparedGroup(
            group="CAVE-1",
            name="The first cave",
            wheels=40,
            judged=30,
            well=12,
            badly=8,
            median_score=3.8,
            measures=[
                ComparedMeasure(
                    measure="mean_temperature_c",
                    wheels=40,
                    median=10.9,
                    low_quartile=10.7,
                    high_quartile=11.2,
                )
            ],
        )
    ],
    differences=[
        Difference(
            measure="lost_pct",
            well=SideOfWheels(wheels=15, makes=5, median=5.1),
            badly=SideOfWheels(wheels=15, makes=6, median=8.4),
            verdict="clear_difference",
            in_words="Wheels judged well had lost less.",
            shift=-3.2,
            low_shift=-4.9,
            high_shift=-1.1,
            effect=-0.62,
            low_effect=-0.85,
            high_effect=-0.21,
        ),
        Difference(
            measure="holes",
            well=SideOfWheels(wheels=2, makes=1),
            badly=SideOfWheels(wheels=1, makes=1),
            verdict="too_few",
            in_words="Too few wheels to say.",
        ),
    ],
    wheels_left_out=2,
    notes=["A difference is not a cause."],
)
