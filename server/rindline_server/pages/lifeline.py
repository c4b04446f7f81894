"""The life line of one wheel: its air, its rooms, what was done to it, along its age."""

from datetime import datetime, timedelta

from rindline_schema.answers import ConditionPath, Handling
from rindline_server.pages.figures import (
    MARGIN,
    draw_facts,
    draw_heading,
    draw_table,
    facts_of_air,
    spells_in_words,
)
from rindline_server.pages.key import draw_key, key_of_strips
from rindline_server.pages.lanes import Lettered, graver
from rindline_server.pages.marks import DONE, draw_handlings, kinds_of
from rindline_server.pages.pieces import Quantity, humidity, is_daily, temperature
from rindline_server.pages.quantities import Marked, draw_quantities
from rindline_server.pages.rooms import draw_rooms, list_rooms
from rindline_server.pages.scales import Course, age_ticks
from rindline_server.pages.sheet import Place, Sheet
from rindline_server.pages.strips import draw_axis
from rindline_server.pages.words import celsius, day_and_year, hours, number, per_cent, times

__all__ = ["draw_figures", "draw_path", "path_in_words", "way_in_words"]

_GUTTER, _COUNTS = 68.0, 38.0
_MOST_IRONINGS = 4
_SCORES = ("body", "texture", "blueing", "coat", "flavour")


def draw_path(sheet: Sheet, name: str, path: ConditionPath, top: float) -> float:
    """Draw the life line of one path, and what its rooms and marks are."""
    above = temperature(path.series, path.figures, path.unobserved)
    below = humidity(path.series, path.figures, path.unobserved)
    lettered = graver([*above.spells, *below.spells])
    top = _line_of_life(sheet, name, path, [above, below], lettered, top)
    entries = key_of_strips(
        name,
        by="day" if is_daily(path.series) else "hour",
        has_limits=False,
        has_gaps=bool(above.gaps or below.gaps),
        has_spells=bool(above.spells or below.spells),
    )
    top = draw_key(sheet, entries, top + 4)
    top = draw_heading(sheet, "Rooms, with their mean air", top)
    if path.stays:
        top = list_rooms(sheet, name, path.stays, top)
    else:
        top = sheet.paragraph(Place(MARGIN, top), "No room is recorded.", sheet.wide - MARGIN)
    return spells_in_words(sheet, lettered, path.figures.spell_count, path.doubts, top)


def draw_figures(sheet: Sheet, path: ConditionPath, top: float) -> float:
    """Write the figures of one path: its air, its ages, and the 60 days if they matter."""
    top = draw_heading(sheet, "Figures of the observed time", top)
    top = draw_table(sheet, path.figures, top)
    top = draw_facts(sheet, [*_facts_of_life(path), *facts_of_air(path.figures)], top)
    if path.sixty_days is None:
        return top
    words = f"{path.sixty_days.regulation}: {path.sixty_days.wording}"
    return sheet.paragraph(Place(MARGIN, top + 4), words, sheet.wide - MARGIN)


def way_in_words(path: ConditionPath) -> str:
    """Name the lots of a path, from the wheel on."""
    return " \u203a ".join(path.lots)


def path_in_words(path: ConditionPath) -> str:
    """Say in words what the life line shows."""
    figures = path.figures
    parts = [f"{way_in_words(path)}, {day_and_year(path.from_at)} to "]
    parts.append(f"{day_and_year(path.until_at)}: {len(path.stays)} stays in rooms. ")
    if figures.temperature is not None:
        parts.append(f"Mean temperature {celsius(figures.temperature.mean_c)}. ")
    if figures.humidity is not None:
        parts.append(f"Mean relative humidity {per_cent(figures.humidity.mean_pct)}. ")
    parts.append(f"Not observed for {hours(figures.unobserved_hours)}. ")
    if figures.spell_count:
        parts.append(f"Beyond the limits {times(figures.spell_count)}. ")
    for kind in kinds_of(path.handlings):
        count = sum(one.kind == kind for one in path.handlings)
        parts.append(f"{DONE.get(kind, kind).capitalize()} {times(count)}. ")
    return "".join(parts).strip()


def _line_of_life(
    sheet: Sheet,
    name: str,
    path: ConditionPath,
    quantities: list[Quantity],
    lettered: list[Lettered],
    top: float,
) -> float:
    until_at = _drawn_until(path)
    course = Course(path.from_at, until_at, _GUTTER, sheet.wide - _COUNTS)
    ticks = age_ticks(course, path.ages.counted_from, sheet.width("30 Sep") + 6)
    marked = Marked(lettered, path.doubts)
    top = draw_quantities(sheet, name, course, quantities, marked, ticks, top, above=6)
    top = draw_rooms(sheet, name, course, path.stays, top + 10) + 4
    for kind in kinds_of(path.handlings):
        own_kind = [one for one in path.handlings if one.kind == kind]
        top = draw_handlings(sheet, course, kind, own_kind, top)
    top = draw_axis(sheet, course, ticks, top, ("age, days", "date"))
    if until_at == path.until_at:
        return top
    words = f"Drawn to {day_and_year(until_at)} only: nothing was observed or done after that."
    return sheet.paragraph(Place(MARGIN, top), words, sheet.wide - MARGIN)


def _drawn_until(path: ConditionPath) -> datetime:
    """Give where the line ends: before the end if the greater part would be empty.

    A life whose readings ended long ago would else be squeezed to the left of a long gap.
    """
    happened = [
        path.from_at,
        *(one.at + timedelta(hours=one.hours) for one in path.series),
        *(one.at for one in path.handlings),
        *(one.until_at for one in path.figures.spells),
        *(one.until_at for one in path.doubts),
        *(one.from_at for one in path.stays),
        *(one.from_at for one in path.unobserved),
    ]
    known = max(happened) - path.from_at
    if known <= timedelta(0) or known > (path.until_at - path.from_at) / 2:
        return path.until_at
    return path.from_at + known * 1.25


def _facts_of_life(path: ConditionPath) -> list[tuple[str, str]]:
    ages = path.ages
    facts = [("Age counted from", f"{ages.counted_from_what}, {day_and_year(ages.counted_from)}")]
    for what, days in (
        ("at piercing", ages.at_piercing_days),
        ("at cutting", ages.at_cutting_days),
        ("at sale", ages.at_sale_days),
        ("now", ages.now_days),
    ):
        if days is not None:
            facts.append((f"Age {what}", f"{days} days"))
    weighed = sorted(
        (one.at, one.age_days, one.mass_g)
        for one in path.handlings
        if one.kind == "weigh" and one.mass_g is not None
    )
    if weighed:
        ends = dict.fromkeys((weighed[0], weighed[-1]))
        said = ", ".join(f"{grams:,}\u00a0g at {number(age, 0)}\u00a0d" for _, age, grams in ends)
        facts.append(("Weighed", said))
    ironed = [one for one in path.handlings if one.kind == "iron"]
    facts += [("Ironed", _ironing(one)) for one in ironed[:_MOST_IRONINGS]]
    return facts


def _ironing(one: Handling) -> str:
    scores = [(name, getattr(one, name)) for name in _SCORES]
    said = [f"{name} {score}" for name, score in scores if score is not None]
    if one.grade:
        said.insert(0, f"grade {one.grade}")
    at = f"at {number(one.age_days, 0)}\u00a0d"
    return f"{at}: {', '.join(said)}" if said else at
