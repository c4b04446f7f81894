"""The life lines of a lot: one for a wheel or a portion, one an input for a blend."""

from collections.abc import Sequence
from typing import NamedTuple

from rindline_schema.answers import ConditionPath, ConditionsAnswer
from rindline_server.pages.climate import ident
from rindline_server.pages.figures import MARGIN, draw_notes
from rindline_server.pages.lifeline import (
    draw_figures,
    draw_path,
    path_in_words,
    way_in_words,
)
from rindline_server.pages.look import PAPER, SCREEN, Look
from rindline_server.pages.patterns import define_fills
from rindline_server.pages.sheet import Place, Sheet
from rindline_server.pages.words import day_and_year

__all__ = ["conditions_pages", "conditions_svg"]

_MOST_PATHS = 6
# Higher, and a page of A4 would have letters of less than 8 points.
_HIGHEST_PAGE = 1035.0


class _Parts(NamedTuple):
    """What of the paths is drawn."""

    lines: bool = True
    figures: bool = True


def conditions_svg(answer: ConditionsAnswer, look: Look = SCREEN) -> str:
    """Draw the life line of a lot as SVG.

    The air is drawn from each path's ``series``, day by day or hour by hour. Of several paths the
    first six are drawn one under another, and it is said how many more there are.
    """
    return _picture(answer, list(enumerate(answer.paths[:_MOST_PATHS], 1)), look, _Parts())[0]


def conditions_pages(answer: ConditionsAnswer) -> list[str]:
    """Draw the life lines for paper: a page each, or two where one would have small letters."""
    pages = []
    paths = list(enumerate(answer.paths[:_MOST_PATHS], 1))
    for shown in [[numbered] for numbered in paths] or [[]]:
        svg, high = _picture(answer, shown, PAPER, _Parts())
        if high <= _HIGHEST_PAGE or not shown:
            pages.append(svg)
            continue
        halves = (_Parts(figures=False), _Parts(lines=False))
        pages += [_picture(answer, shown, PAPER, parts)[0] for parts in halves]
    return pages


def _picture(
    answer: ConditionsAnswer,
    paths: Sequence[tuple[int, ConditionPath]],
    look: Look,
    parts: _Parts,
) -> tuple[str, float]:
    """Draw a picture of these paths; give it and its height."""
    sheet = Sheet(look)
    name = f"life-{ident(answer.lot)}"
    define_fills(sheet, name)
    right = sheet.wide - MARGIN
    title = f"Life of {answer.kind} {answer.lot}"
    top = sheet.paragraph(Place(MARGIN, MARGIN), title, right, size=15, bold=True)
    if answer.product_name:
        top = sheet.paragraph(Place(MARGIN, top), answer.product_name, right, most=3)
    top = sheet.paragraph(Place(MARGIN, top), answer.in_words, right)
    if not paths:
        top = sheet.paragraph(Place(MARGIN, top + 6), "No path is recorded yet.", right)
    whole = len(answer.paths) + answer.paths_left_out
    for number, path in paths:
        top = _path_heading(sheet, number, whole, path, top)
        top = draw_path(sheet, name, path, top) if parts.lines else top
        top = draw_figures(sheet, path, top) if parts.figures else top
    if whole > len(answer.paths[:_MOST_PATHS]):
        more = whole - len(answer.paths[:_MOST_PATHS])
        words = f"{more} more of {whole} paths are not drawn; the answer as JSON has their figures."
        top = sheet.paragraph(Place(MARGIN, top + 6), words, right, bold=True)
    notes = [*answer.notes, "All times are in UTC."] if parts.figures else []
    top = draw_notes(sheet, notes, answer.safety_note, top)
    said = [answer.in_words, *(path_in_words(path) for _, path in paths), answer.safety_note]
    high = top + MARGIN
    return sheet.svg(high, name, title, " ".join(said)), high


def _path_heading(sheet: Sheet, number: int, whole: int, path: ConditionPath, top: float) -> float:
    right = sheet.wide - MARGIN
    if whole > 1:
        words = f"Path {number} of {whole}"
        top = sheet.paragraph(Place(MARGIN, top + 8), words, right, size=12.5, bold=True)
    lots = way_in_words(path)
    words = f"{lots}, {day_and_year(path.from_at)} to {day_and_year(path.until_at)}"
    return sheet.paragraph(Place(MARGIN, top), words, right)
