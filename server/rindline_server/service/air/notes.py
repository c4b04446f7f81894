"""What a reader of the figures of the air must know, in words."""

from collections.abc import Sequence

from rindline_schema.answers import AirFigures, Doubt, SensorSpan
from rindline_server.calc.air import AirRule

__all__ = ["notes_on"]

_MINUTE_US = 60_000_000


def notes_on(
    sensors: Sequence[SensorSpan], doubts: Sequence[Doubt], figures: AirFigures, rule: AirRule
) -> list[str]:
    """Say what the figures leave out, and what they rest on that was told late or is in doubt."""
    return [
        *_unobserved(sensors, figures, rule),
        *_in_doubt(doubts, figures),
        *(_told_later(span) for span in sensors if span.told_later),
    ]


def _unobserved(sensors: Sequence[SensorSpan], figures: AirFigures, rule: AirRule) -> list[str]:
    if not sensors:
        return ["No sensor hung there in this time: nothing is known of the air."]
    if not figures.observed_hours and not figures.humidity_observed_hours:
        told = "There is no reading" if not figures.readings else "The readings are too far apart"
        return [f"{told} in this time: nothing is known of the air."]
    if not figures.unobserved_hours:
        return []
    gap = f"{rule.longest_gap_us / _MINUTE_US:g}"
    hours = f"{_number(figures.unobserved_hours)} of {_number(figures.hours)} hours"
    why = f"no reading, or readings more than {gap} minutes apart"
    return [f"For {hours} there is no temperature ({why}): no figure holds for them."]


def _in_doubt(doubts: Sequence[Doubt], figures: AirFigures) -> list[str]:
    if not doubts:
        return []
    which = sorted({f"{doubt.sensor} ({doubt.kind})" for doubt in doubts})
    hours = f"{_number(figures.doubtful_hours)} hours"
    named = ", ".join(which)
    return [f"{hours} rest on readings in doubt, which are counted all the same: {named}."]


def _told_later(span: SensorSpan) -> str:
    assert span.told_at is not None
    from_day, told_day = span.from_at.date(), span.told_at.date()
    offsets = [
        f"{value:+g} {unit}"
        for value, unit in (
            (span.offset_c, "degrees"),
            (span.offset_humidity_pct, "% of humidity"),
        )
        if value
    ]
    if offsets:
        what = f"The offset of sensor {span.sensor} ({' and '.join(offsets)} from {from_day})"
    else:
        what = f"Where sensor {span.sensor} hung from {from_day}, and that it needs no offset,"
    return f"{what} was told on {told_day}, after readings it applies to."


def _number(hours: float) -> str:
    """Write hours to a tenth; what is less, as it is."""
    return f"{hours:.1f}" if hours >= 0.1 else f"{hours:.2g}"
