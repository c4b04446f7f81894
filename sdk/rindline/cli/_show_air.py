"""What climate and conditions have in common as people read them: figures, spells, doubts."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from rindline.cli._curves import Axis, Drawing, Limit, averaged, curve, marks
from rindline.cli._figures import local_time, plain_figure, words
from rindline.cli._screen import Screen
from rindline_schema.answers import (
    AirFigures,
    AirSpell,
    ClimateAnswer,
    ConditionsAnswer,
    Doubt,
    HourOfAir,
    SensorSpan,
    UnobservedSpan,
)

__all__ = [
    "draw_air",
    "hours_of",
    "show_doubts",
    "show_figures",
    "show_ground",
    "show_notes",
    "show_rows",
    "show_series",
    "show_spells",
]

_SPELLS_SHOWN = 20
_SIGNS = {"too_cold": "v", "too_warm": "^", "too_dry": "v", "too_damp": "^"}


def hours_of(minutes: float) -> str:
    """Write minutes as hours."""
    return plain_figure(minutes / 60, 1)


def show_rows(screen: Screen, rows: Sequence[tuple[str, AirFigures]]) -> None:
    """Print a line of figures for each time, narrow enough for a screen of 60."""
    heat, damp = [], []
    for key, figures in rows:
        outside = figures.outside
        days = f"{figures.hours / 24:.1f}"
        found = figures.temperature
        heat.append(
            (
                key,
                days,
                *_numbers(
                    (found.mean_c, found.least_c, found.p05_c, found.p95_c, found.most_c)
                    if found
                    else ()
                ),
                hours_of(outside.too_cold_minutes + outside.too_warm_minutes),
                plain_figure(figures.unobserved_hours, 1),
            )
        )
        seen = figures.humidity
        damp.append(
            (
                key,
                days,
                *_numbers(
                    (seen.mean_pct, seen.least_pct, seen.p05_pct, seen.p95_pct, seen.most_pct)
                    if seen
                    else ()
                ),
                hours_of(outside.too_dry_minutes + outside.too_damp_minutes),
                plain_figure(figures.hours - figures.humidity_observed_hours, 1),
            )
        )
    screen.table("Temperature in °C", _COLUMNS, heat)
    screen.table("Relative humidity in %", _COLUMNS, damp)


_COLUMNS = ("", ">Days", ">Mean", ">Min", ">5 %", ">95 %", ">Max", ">Out h", ">No h")


def _numbers(values: Sequence[float]) -> list[str]:
    return [f"{value:.1f}" for value in values] or [""] * 5


def show_figures(screen: Screen, figures: AirFigures) -> None:
    """Print figures of one time, each with its unit."""
    heat, damp, outside = figures.temperature, figures.humidity, figures.outside
    observed = (
        f"{figures.observed_hours:.1f} of {figures.hours:.1f} h, humidity "
        f"{figures.humidity_observed_hours:.1f} h; {figures.readings} readings"
    )
    beyond = (
        f"too cold {hours_of(outside.too_cold_minutes)} h, too warm "
        f"{hours_of(outside.too_warm_minutes)} h, too dry "
        f"{hours_of(outside.too_dry_minutes)} h, too damp {hours_of(outside.too_damp_minutes)} h"
    )
    pairs = [("Observed", observed)]
    if figures.doubtful_hours:
        pairs.append(("In doubt", f"{figures.doubtful_hours:.1f} h"))
    if heat is not None:
        pairs += [
            ("Temperature", f"mean {heat.mean_c:.2f} °C, {heat.least_c:.1f} to {heat.most_c:.1f}"),
            (
                "Percentiles",
                f"5 % {heat.p05_c:.1f} °C, 50 % {heat.p50_c:.1f}, 95 % {heat.p95_c:.1f}",
            ),
        ]
    if damp is not None:
        pairs += [
            (
                "Humidity",
                f"mean {damp.mean_pct:.1f} %, {damp.least_pct:.1f} to {damp.most_pct:.1f}",
            ),
            (
                "Percentiles",
                f"5 % {damp.p05_pct:.1f} %, 50 % {damp.p50_pct:.1f}, 95 % {damp.p95_pct:.1f}",
            ),
        ]
    pairs += [
        ("Dew point", _with_unit(figures.dew_point_mean_c, 2, "°C, mean")),
        ("Deficit", _with_unit(figures.vapour_pressure_deficit_mean_kpa, 4, "kPa, mean")),
        ("Kinetic", _with_unit(figures.mean_kinetic_temperature_c, 2, "°C, mean kinetic")),
        (
            "Degree-hours",
            f"{figures.degree_hours_c_h:.1f} °C h above {figures.degree_hours_base_c:g} °C",
        ),
        ("Outside", beyond),
    ]
    screen.facts(pairs)


def _with_unit(value: float | None, decimals: int, unit: str) -> str:
    return "" if value is None else f"{value:.{decimals}f} {unit}"


def draw_air(
    axis: Axis,
    drawing: Drawing,
    series: Sequence[HourOfAir],
    spells: Sequence[AirSpell],
    limits: tuple[Sequence[Limit], Sequence[Limit]] = ((), ()),
) -> list[str]:
    """Draw temperature and humidity, each over a row that marks what was outside or unseen."""
    rows: list[str] = []
    for title, kinds, means, own in (
        (
            "Temperature in °C",
            ("too_cold", "too_warm"),
            averaged(axis, series, lambda hour: hour.mean_c),
            limits[0],
        ),
        (
            "Relative humidity in %",
            ("too_dry", "too_damp"),
            averaged(axis, series, lambda hour: hour.mean_humidity_pct),
            limits[1],
        ),
    ):
        drawn = curve(axis, means.values, own, drawing)
        if not drawn:
            rows.append(f"{title}: not observed")
            continue
        spans = [
            (_SIGNS[spell.what], spell.from_at, spell.until_at)
            for spell in spells
            if spell.what in kinds
        ]
        rows += [title, *drawn, marks("outside", axis, spans, means.seen)]
    return rows


def show_spells(screen: Screen, figures: AirFigures) -> None:
    """List the first spells outside a limit."""
    rows = [
        (
            words(spell.what),
            spell.room,
            local_time(spell.from_at),
            hours_of(spell.minutes),
            plain_figure(_first(spell.limit_c, spell.limit_humidity_pct), 1),
            plain_figure(_first(spell.worst_c, spell.worst_humidity_pct), 1),
        )
        for spell in figures.spells[:_SPELLS_SHOWN]
    ]
    columns = ("Outside", "Room", "From", ">Hours", ">Limit", ">Worst")
    screen.table("Spells outside a limit", columns, rows, none="none")
    if figures.spell_count > len(rows):
        screen.line(f"the first {len(rows)} of {figures.spell_count} spells")


def _first(*values: float | None) -> float | None:
    return next((value for value in values if value is not None), None)


def show_ground(
    screen: Screen,
    sensors: Iterable[SensorSpan],
    unobserved: Iterable[UnobservedSpan],
    doubts: Iterable[Doubt],
) -> None:
    """List what figures rest on: sensors with offsets, times without air, readings in doubt."""
    screen.table(
        "Sensors",
        ("Sensor", "When", ">Offset °C", ">% RH", ""),
        [
            (
                span.sensor,
                _when(span.from_at, span.until_at),
                plain_figure(span.offset_c, 3),
                plain_figure(span.offset_humidity_pct, 3),
                f"declared afterwards, {local_time(span.told_at)}" if span.told_later else "",
            )
            for span in sensors
        ],
    )
    screen.table(
        "Not observed",
        ("Why", "Room", "When", ">Hours"),
        [
            (
                words(span.why),
                span.room or "",
                _when(span.from_at, span.until_at),
                plain_figure(span.hours, 1),
            )
            for span in unobserved
        ],
    )
    show_doubts(screen, doubts)


def show_doubts(screen: Screen, doubts: Iterable[Doubt]) -> None:
    """List readings in doubt."""
    screen.table(
        "Hard to believe, but kept and counted",
        ("Sensor", "What", "When", "Detail"),
        [
            (
                doubt.sensor,
                words(doubt.kind),
                _when(doubt.from_at, doubt.until_at),
                doubt.detail,
            )
            for doubt in doubts
        ],
    )


def _when(from_at: datetime, until_at: datetime) -> str:
    return f"{local_time(from_at)} to {local_time(until_at)}"


def show_series(screen: Screen, series: Iterable[HourOfAir]) -> None:
    """List the air by hours or days."""
    rows = [
        (
            local_time(hour.at),
            hour.room or "",
            *(
                "" if value is None else f"{value:.1f}"
                for value in (
                    hour.mean_c,
                    hour.least_c,
                    hour.most_c,
                    hour.mean_humidity_pct,
                    hour.least_humidity_pct,
                    hour.most_humidity_pct,
                )
            ),
            plain_figure(hour.observed_minutes, 0),
            plain_figure(hour.outside_minutes, 0),
        )
        for hour in series
    ]
    columns = (
        "From",
        "Room",
        ">Mean °C",
        ">Least",
        ">Most",
        ">Mean % RH",
        ">Least",
        ">Most",
        ">Seen min",
        ">Outside min",
    )
    screen.table("Air", columns, rows, none="nothing was observed")


def show_notes(screen: Screen, answer: ClimateAnswer | ConditionsAnswer) -> None:
    """Print what a reader must know, how readings became figures, and the safety line."""
    for note in answer.notes:
        screen.line(f"Note: {note}")
    screen.line(
        f"Rule: {answer.rule}; nothing is bridged for longer than "
        f"{answer.longest_gap_minutes:g} minutes"
    )
    screen.line(answer.safety_note, style="italic")
