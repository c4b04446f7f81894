"""Weight loss and comparisons as people read them."""

from rindline.cli._figures import kilograms, local_time, plain_figure, words
from rindline.cli._screen import Screen
from rindline_schema.answers import (
    ComparisonAnswer,
    Difference,
    SideOfWheels,
    VapourLoss,
    WeightLossAnswer,
    WheelLoss,
)

__all__ = ["show_comparison", "show_weight_loss"]

# Of more wheels only the last weighing of each is listed.
_CURVES_SHOWN = 3


def show_weight_loss(screen: Screen, answer: WeightLossAnswer) -> None:
    """Print each wheel's curve beside the corridor of the past, and what air explains."""
    screen.facts(
        [
            ("Lot", answer.lot),
            ("Kind", answer.kind),
            ("Product", answer.product or ""),
            ("Outside", ", ".join(answer.outside) or "no wheel"),
        ]
    )
    if len(answer.wheels) <= _CURVES_SHOWN:
        for wheel in answer.wheels:
            _show_curve(screen, wheel)
    else:
        _show_last(screen, answer.wheels)
    screen.table(
        f"What past wheels had lost (none below {answer.least_wheels} wheels)",
        (">Age, days", ">Wheels", ">10 %", ">Median %", ">90 %"),
        [
            (
                str(point.age_days),
                str(point.wheels),
                f"{point.low_pct:.2f}",
                f"{point.median_pct:.2f}",
                f"{point.high_pct:.2f}",
            )
            for point in answer.corridor
        ],
        none="too few wheels to say",
    )
    if answer.explained is not None:
        screen.line(_explained(answer.explained))
    for note in answer.notes:
        screen.line(f"Note: {note}")
    screen.line(answer.safety_note, style="italic")


def _show_curve(screen: Screen, wheel: WheelLoss) -> None:
    title = f"Wheel {wheel.lot}, hooped with {kilograms(wheel.hooped_g)} kg"
    rows = [
        (
            local_time(point.at),
            f"{point.age_days:.1f}",
            kilograms(point.mass_g),
            f"{point.lost_pct:.2f}",
            point.corridor,
        )
        for point in wheel.points
    ]
    columns = ("Weighed", ">Days", ">kg", ">Lost %", "Corridor")
    screen.table(title, columns, rows, none="not weighed since")
    since = [
        (
            f"{point.age_days:.1f}",
            str(point.lost_since_g),
            plain_figure(point.expected_lost_g, 0),
            plain_figure(point.vapour_pressure_deficit_kpa_h, 1),
        )
        for point in wheel.points
        if point.lost_since_g is not None
    ]
    since_columns = (">Days", ">Lost g", ">As such air took before, g", ">Deficit kPa h")
    screen.table("Since the weighing before", since_columns, since)


def _show_last(screen: Screen, wheels: list[WheelLoss]) -> None:
    rows = [
        (
            wheel.lot,
            kilograms(wheel.hooped_g),
            *(
                (f"{last.age_days:.1f}", kilograms(last.mass_g), f"{last.lost_pct:.2f}")
                if (last := wheel.points[-1] if wheel.points else None)
                else ("", "", "")
            ),
            "OUTSIDE" if wheel.outside else "",
        )
        for wheel in wheels
    ]
    columns = ("Wheel", ">Hooped kg", ">Days", ">kg", ">Lost %", "Corridor")
    screen.table("Last weighing of each wheel", columns, rows)


def _explained(found: VapourLoss) -> str:
    return (
        f"Past loss went with the air's vapour pressure deficit: "
        f"{found.g_per_kg_kpa_h:.3f} g a kg and kPa h (95 %: {found.low_g_per_kg_kpa_h:.3f} to "
        f"{found.high_g_per_kg_kpa_h:.3f}), from {found.intervals} intervals of "
        f"{found.wheels} wheels; it explains {100 * found.r_squared:.0f} % of the loss."
    )


def show_comparison(screen: Screen, answer: ComparisonAnswer) -> None:
    """Print groups side by side, and differences between wheels judged well and badly."""
    screen.facts(
        [
            ("By", answer.by),
            ("Wheels", f"{answer.wheels}, of these judged {answer.judged}"),
            ("Split", answer.split),
        ]
    )
    screen.table(
        f"By {answer.by}",
        (answer.by.capitalize(), "Name", ">Wheels", ">Judged", ">Well", ">Badly", ">Score"),
        [
            (
                group.group,
                group.name or "",
                str(group.wheels),
                str(group.judged),
                str(group.well),
                str(group.badly),
                plain_figure(group.median_score, 2),
            )
            for group in answer.groups
        ],
        none="no wheels",
    )
    screen.table(
        "Measures (median and middle half)",
        (answer.by.capitalize(), "Measure", ">Wheels", ">Median", ">Low", ">High"),
        [
            (
                group.group,
                words(measure.measure),
                str(measure.wheels),
                plain_figure(measure.median, 3),
                plain_figure(measure.low_quartile, 3),
                plain_figure(measure.high_quartile, 3),
            )
            for group in answer.groups
            for measure in group.measures
        ],
    )
    screen.table(
        "Judged well beside judged badly (medians; effect from -1 to 1)",
        ("Measure", ">Well", ">Badly", "Effect"),
        [
            (words(found.measure), _side(found.well), _side(found.badly), _effect(found))
            for found in answer.differences
        ],
        none="nothing to compare",
    )
    for found in answer.differences:
        screen.line(f"{words(found.measure)}, {words(found.verdict)}: {found.in_words}")
    if answer.groups_left_out or answer.wheels_left_out:
        screen.line(f"Left out: {answer.groups_left_out} groups, {answer.wheels_left_out} wheels.")
    screen.line(
        f"No verdict with fewer than {answer.least_wheels} wheels or {answer.least_makes} makes "
        "on a side."
    )
    for note in answer.notes:
        screen.line(f"Note: {note}")
    screen.line(answer.safety_note, style="italic")


def _effect(found: Difference) -> str:
    if found.effect is None or found.low_effect is None or found.high_effect is None:
        return plain_figure(found.effect, 2)
    return f"{found.effect:.2f} ({found.low_effect:.2f} to {found.high_effect:.2f})"


def _side(side: SideOfWheels) -> str:
    median = plain_figure(side.median, 3)
    return f"{median} of {side.wheels}" if median else f"of {side.wheels}"
