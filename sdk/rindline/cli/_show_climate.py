"""The air of a room as people read it, and the list of sensors."""

from collections.abc import Iterable

from rindline.cli._curves import Axis, Drawing, Limit
from rindline.cli._figures import local_time, plain_figure
from rindline.cli._screen import Screen
from rindline.cli._show_air import (
    draw_air,
    show_doubts,
    show_figures,
    show_ground,
    show_notes,
    show_series,
    show_spells,
)
from rindline_schema.answers import ClimateAnswer, SensorState

__all__ = ["show_climate", "show_sensors"]

# Up to so many hours are told in minutes, up to so many days in hours.
_FEW = 2


def show_climate(screen: Screen, answer: ClimateAnswer, *, listed: bool) -> None:
    """Print a room's curves, figures, spells and what they rest on; the series if ``listed``."""
    screen.facts(
        [
            ("Room", f"{answer.room} ({answer.name}), {answer.site}"),
            ("From", local_time(answer.from_at)),
            ("Until", local_time(answer.until_at)),
        ]
    )
    screen.line()
    axis = Axis.of(answer.from_at, answer.until_at, screen.width)
    drawing = Drawing.of(blocks=screen.draws)
    rows = draw_air(axis, drawing, answer.series, answer.figures.spells, _limits(answer))
    screen.lines([*rows, axis.ends()])
    screen.line(f"{drawing.limit} limit   ^ above   v below   ! both   . not observed")
    screen.line()
    show_figures(screen, answer.figures)
    show_spells(screen, answer.figures)
    show_ground(screen, answer.sensors, answer.unobserved, answer.doubts)
    if listed:
        show_series(screen, answer.series)
    show_notes(screen, answer)


def _limits(answer: ClimateAnswer) -> tuple[list[Limit], list[Limit]]:
    return (
        [
            Limit(value, span.from_at, span.until_at)
            for span in answer.limits
            for value in (span.least_c, span.most_c)
            if value is not None
        ],
        [
            Limit(value, span.from_at, span.until_at)
            for span in answer.limits
            for value in (span.least_humidity_pct, span.most_humidity_pct)
            if value is not None
        ],
    )


def show_sensors(screen: Screen, sensors: Iterable[SensorState]) -> None:
    """Print the sensors as a list."""
    found = list(sensors)
    screen.table(
        "Sensors",
        ("Sensor", "Name", "Room", "Site", "There since"),
        [(one.sensor, one.name, one.room, one.site or "", local_time(one.since)) for one in found],
        none="none is declared",
    )
    screen.table(
        "Last readings, without offsets",
        ("Sensor", "When", ">°C", ">% RH", ">Silent for"),
        [
            (
                one.sensor,
                local_time(one.last_at),
                plain_figure(one.last_temperature_c, 1),
                plain_figure(one.last_humidity_pct, 1),
                _silence(one.silent_minutes),
            )
            for one in found
        ],
    )
    show_doubts(screen, [doubt for one in found for doubt in one.doubts])


def _silence(minutes: float | None) -> str:
    if minutes is None:
        return ""
    hours = minutes / 60
    if hours < _FEW:
        return f"{minutes:.0f} min"
    return f"{hours:.0f} h" if hours < _FEW * 24 else f"{hours / 24:.0f} days"
