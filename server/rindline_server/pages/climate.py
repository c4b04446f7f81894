"""The climate strip of a room: its air over a time, with limits, gaps and spells beyond them."""

import re

from rindline_schema.answers import ClimateAnswer
from rindline_server.pages.figures import (
    MARGIN,
    draw_facts,
    draw_heading,
    draw_notes,
    draw_table,
    facts_of_air,
    spells_in_words,
    unobserved_words,
)
from rindline_server.pages.key import draw_key, key_of_strips
from rindline_server.pages.lanes import Lettered, graver
from rindline_server.pages.look import SCREEN, Look
from rindline_server.pages.patterns import define_fills
from rindline_server.pages.pieces import Quantity, humidity, is_daily, temperature
from rindline_server.pages.quantities import Marked, draw_quantities
from rindline_server.pages.scales import Course, date_ticks
from rindline_server.pages.sheet import Place, Sheet
from rindline_server.pages.strips import draw_axis
from rindline_server.pages.words import celsius, day_and_year, per_cent, times

__all__ = ["climate_svg", "ident"]

_GUTTER = 68.0


def climate_svg(answer: ClimateAnswer, look: Look = SCREEN) -> str:
    """Draw the air of a room as SVG.

    The course is drawn from ``answer.series``: hours read well up to five weeks, days beyond.
    All else comes from the figures, limits, gaps and doubts of the answer.
    """
    sheet = Sheet(look)
    name = f"climate-{ident(answer.room)}"
    define_fills(sheet, name)
    figures = answer.figures
    above = temperature(answer.series, figures, answer.unobserved, answer.limits)
    below = humidity(answer.series, figures, answer.unobserved, answer.limits)
    lettered = graver([*above.spells, *below.spells])
    top = _title(sheet, answer)
    top = _strips(sheet, name, answer, [above, below], lettered, top)
    has_gaps = bool(above.gaps or below.gaps)
    entries = key_of_strips(
        name,
        by="day" if is_daily(answer.series) else "hour",
        has_limits=bool(above.limits or below.limits),
        has_gaps=has_gaps,
        has_spells=bool(above.spells or below.spells),
    )
    top = draw_key(sheet, entries, top + 4)
    top = spells_in_words(sheet, lettered, figures.spell_count, answer.doubts, top)
    top = draw_heading(sheet, "Figures of the observed time", top)
    top = draw_table(sheet, figures, top)
    facts = [*facts_of_air(figures), ("Integrated by", answer.rule)]
    top = draw_facts(sheet, facts, top)
    top = draw_notes(sheet, answer.notes, answer.safety_note, top)
    title = f"Air of room {answer.name} ({answer.room}), site {answer.site}"
    return sheet.svg(top + MARGIN, name, title, _description(answer))


def ident(code: str) -> str:
    """Give what of a code may stand in the ids of a picture."""
    return re.sub(r"[^A-Za-z0-9_-]", "", code) or "x"


def _title(sheet: Sheet, answer: ClimateAnswer) -> float:
    right = sheet.wide - MARGIN
    top = sheet.paragraph(Place(MARGIN, MARGIN), answer.name, right, size=16, bold=True, most=3)
    line = f"Air of room {answer.room}, site {answer.site}"
    top = sheet.paragraph(Place(MARGIN, top), line, right)
    line = f"{day_and_year(answer.from_at)} to {day_and_year(answer.until_at)}, times in UTC"
    return sheet.paragraph(Place(MARGIN, top), line, right)


def _strips(
    sheet: Sheet,
    name: str,
    answer: ClimateAnswer,
    quantities: list[Quantity],
    lettered: list[Lettered],
    top: float,
) -> float:
    course = Course(answer.from_at, answer.until_at, _GUTTER, sheet.wide - 12.0)
    ticks = date_ticks(course, sheet.width("30 Sep") + 6)
    marked = Marked(lettered, answer.doubts)
    top = draw_quantities(sheet, name, course, quantities, marked, ticks, top, above=8)
    return draw_axis(sheet, course, ticks, top, ("", ""))


def _description(answer: ClimateAnswer) -> str:
    """Say in words what the picture shows."""
    figures, parts = answer.figures, []
    parts.append(f"From {day_and_year(answer.from_at)} to {day_and_year(answer.until_at)}.")
    if figures.temperature is not None:
        t = figures.temperature
        parts.append(
            f"Temperature: mean {celsius(t.mean_c)}, lowest {celsius(t.least_c)}, "
            f"highest {celsius(t.most_c)}."
        )
    if figures.humidity is not None:
        h = figures.humidity
        parts.append(
            f"Relative humidity: mean {per_cent(h.mean_pct)}, lowest {per_cent(h.least_pct)}, "
            f"highest {per_cent(h.most_pct)}."
        )
    parts.append(f"{unobserved_words(answer.unobserved, figures).capitalize()}.")
    parts.append(f"Beyond the limits {times(figures.spell_count)}." if figures.spell_count else "")
    parts.append(f"In doubt {times(len(answer.doubts))}." if answer.doubts else "")
    parts.append(answer.safety_note)
    return " ".join(part for part in parts if part)
