"""The figures of the air under a picture: a small table and a list in words."""

import math
from collections.abc import Iterable, Sequence

from rindline_schema.answers import AirFigures, Doubt, UnobservedSpan
from rindline_server.pages.lanes import Lettered
from rindline_server.pages.letters import LINE_EM, height_above, plain
from rindline_server.pages.pieces import Spell
from rindline_server.pages.sheet import INK, LEAST_SIZE, Place, Sheet
from rindline_server.pages.words import celsius, hours, moment, number, per_cent, times

__all__ = [
    "MARGIN",
    "draw_facts",
    "draw_heading",
    "draw_notes",
    "draw_table",
    "facts_of_air",
    "spell_words",
    "spells_in_words",
    "unobserved_words",
]

MARGIN = 8.0
_ROW = LINE_EM * LEAST_SIZE
_COLUMNS = ("mean", "least", "most", "5 %", "50 %", "95 %")
_MOST_NOTES = 8
_TWO_COLUMNS = 500.0


def draw_heading(sheet: Sheet, words: str, top: float) -> float:
    """Write a heading over a part of the picture."""
    return sheet.paragraph(Place(MARGIN, top + 6), words, sheet.wide - MARGIN, size=12.5, bold=True)


def draw_table(sheet: Sheet, figures: AirFigures, top: float) -> float:
    """Set mean, extremes and percentiles of both quantities."""
    temperature, humidity = figures.temperature, figures.humidity
    rows: list[tuple[str, list[float]]] = []
    if temperature is not None:
        t = temperature
        rows.append(("°C", [t.mean_c, t.least_c, t.most_c, t.p05_c, t.p50_c, t.p95_c]))
    if humidity is not None:
        h = humidity
        values = [h.mean_pct, h.least_pct, h.most_pct, h.p05_pct, h.p50_pct, h.p95_pct]
        rows.append(("% humidity", values))
    if not rows:
        return sheet.paragraph(Place(MARGIN, top), "No reading in this time.", sheet.wide - MARGIN)
    first = MARGIN + 76
    step = (sheet.wide - MARGIN - first) / len(_COLUMNS)
    for row, (label, cells) in enumerate([("", _COLUMNS), *_written(rows)]):
        y = top + row * _ROW + height_above(LEAST_SIZE)
        if label:
            sheet.text(Place(MARGIN, y), label)
        for column, cell in enumerate(cells):
            place = Place(first + step * (column + 1), y, "end")
            sheet.text(place, sheet.shorten(cell, step - 2), bold=row > 0 and column == 0)
    line = top + _ROW - 1
    sheet.shape("path", d=f"M{MARGIN:.2f} {line:.2f}H{sheet.wide - MARGIN:.2f}", stroke=INK)
    top += (len(rows) + 1) * _ROW
    words = "5, 50, 95 %: for that share of the time the air was at or below the value."
    return sheet.paragraph(Place(MARGIN, top), words, sheet.wide - MARGIN) + 3


def _written(
    rows: Iterable[tuple[str, list[float]]],
) -> Iterable[tuple[str, tuple[str, ...]]]:
    return ((label, tuple(number(value) for value in values)) for label, values in rows)


def draw_facts(sheet: Sheet, facts: Sequence[tuple[str, str]], top: float) -> float:
    """Write facts one under another, what and how much; in two columns where there is room."""
    columns = 2 if sheet.wide >= _TWO_COLUMNS else 1
    wide = (sheet.wide - MARGIN) / columns
    share = math.ceil(len(facts) / columns)
    bottom = top
    for column in range(columns):
        left, under = MARGIN + column * wide, top
        middle = left + min(0.42 * wide, 170.0)
        for label, value in facts[column * share : (column + 1) * share]:
            under_label = sheet.paragraph(Place(left, under), label, middle - 6)
            under = max(
                under_label, sheet.paragraph(Place(middle, under), value, left + wide - MARGIN)
            )
        bottom = max(bottom, under)
    return bottom


def draw_notes(sheet: Sheet, notes: Sequence[str], safety_note: str, top: float) -> float:
    """Write what a reader of the figures must know, and who decides what is safe."""
    right = sheet.wide - MARGIN
    notes = [note for note in notes if plain(note)]
    if notes:
        top = draw_heading(sheet, "Notes", top)
    for note in notes[:_MOST_NOTES]:
        sheet.text(Place(MARGIN, top + height_above(LEAST_SIZE)), "\u2013")
        top = sheet.paragraph(Place(MARGIN + 11, top), note, right, most=6)
    if len(notes) > _MOST_NOTES:
        more = f"{len(notes) - _MOST_NOTES} more notes stand in the answer as JSON."
        top = sheet.paragraph(Place(MARGIN + 11, top), more, right)
    top += 6
    sheet.shape("path", d=f"M{MARGIN:.2f} {top:.2f}H{right:.2f}", stroke=INK, stroke_width=0.8)
    return sheet.paragraph(Place(MARGIN, top + 4), safety_note, right)


def facts_of_air(figures: AirFigures) -> list[tuple[str, str]]:
    """Give the figures that the table does not hold, in words."""
    outside = figures.outside
    observed = hours(figures.observed_hours)
    base = number(figures.degree_hours_base_c)
    facts = [
        ("Observed", f"{observed} of {hours(figures.hours)}, {figures.readings:,} readings"),
        ("Not observed", hours(figures.unobserved_hours)),
    ]
    if figures.doubtful_hours:
        facts.append(("Observed, in doubt", hours(figures.doubtful_hours)))
    beyond = [
        ("too cold", outside.too_cold_minutes),
        ("too warm", outside.too_warm_minutes),
        ("too dry", outside.too_dry_minutes),
        ("too damp", outside.too_damp_minutes),
    ]
    said = ", ".join(f"{what} {hours(minutes / 60)}" for what, minutes in beyond if minutes > 0)
    facts.append(("Beyond the limits", said or "never while observed"))
    if figures.observed_hours:
        facts.append((f"Above {base} °C", f"{number(figures.degree_hours_c_h, 0)} °C·h"))
    for label, value, write in (
        ("Mean kinetic temperature", figures.mean_kinetic_temperature_c, celsius),
        ("Dew point, mean", figures.dew_point_mean_c, celsius),
    ):
        if value is not None:
            facts.append((label, write(value)))
    if figures.vapour_pressure_deficit_mean_kpa is not None:
        deficit = number(figures.vapour_pressure_deficit_mean_kpa, 3)
        facts.append(("Vapour pressure deficit, mean", f"{deficit} kPa"))
    return facts


def spell_words(spell: Spell) -> str:
    """Say of a spell when it was, how long, how far, beyond which limit."""
    words = f"{spell.what}, {moment(spell.from_at)} to {moment(spell.until_at)}"
    words += f" ({hours(spell.minutes / 60)})"
    write = celsius if spell.unit == "°C" else per_cent
    if spell.worst is not None:
        words += f": {'up' if spell.is_above else 'down'} to {write(spell.worst)}"
    return words if spell.limit is None else f"{words}, limit {write(spell.limit)}"


def spells_in_words(
    sheet: Sheet, lettered: Sequence[Lettered], count: int, doubts: Sequence[Doubt], top: float
) -> float:
    """List the spells that have a letter, how many more there are, and the doubts."""
    right = sheet.wide - MARGIN
    if lettered or doubts:
        top = draw_heading(sheet, "Marked in the picture", top)
    for letter, spell in lettered:
        sheet.text(Place(MARGIN, top + height_above(LEAST_SIZE)), letter, bold=True)
        top = sheet.paragraph(Place(MARGIN + 15, top), spell_words(spell), right)
    if count > len(lettered):
        words = f"{count - len(lettered)} more, marked without a letter"
        top = sheet.paragraph(Place(MARGIN + 15, top), words, right)
    for doubt in doubts[:_MOST_NOTES]:
        sheet.text(Place(MARGIN, top + height_above(LEAST_SIZE)), "?", bold=True)
        words = (
            f"sensor {doubt.sensor} {doubt.kind}, {moment(doubt.from_at)} to "
            f"{moment(doubt.until_at)}: {doubt.detail}"
        )
        top = sheet.paragraph(Place(MARGIN + 15, top), words, right, most=4)
    if len(doubts) > _MOST_NOTES:
        words = f"{len(doubts) - _MOST_NOTES} more times in doubt"
        top = sheet.paragraph(Place(MARGIN + 15, top), words, right)
    return top


def unobserved_words(unobserved: Sequence[UnobservedSpan], figures: AirFigures) -> str:
    """Say how long and how often nothing was observed."""
    if not unobserved:
        return "no gap" if figures.observed_hours else "nothing was observed"
    return f"not observed {times(len(unobserved))}, {hours(figures.unobserved_hours)} in all"
