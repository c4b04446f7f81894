"""The life lines of a lot: one for a wheel or a portion, one an input for a blend."""

from collections.abc import Sequence

from rindline_schema.answers import ConditionPath, ConditionsAnswer
from rindline_server.pages.climate import ident
from rindline_server.pages.figures import MARGIN, draw_notes
from rindline_server.pages.lifeline import draw_path, path_in_words, way_in_words
from rindline_server.pages.look import PAPER, SCREEN, Look
from rindline_server.pages.patterns import define_fills
from rindline_server.pages.sheet import Place, Sheet
from rindline_server.pages.words import day_and_year

__all__ = ["conditions_pages", "conditions_svg"]

_MOST_PATHS = 6


def conditions_svg(answer: ConditionsAnswer, look: Look = SCREEN) -> str:
    """Draw the life line of a lot as SVG.

    The air is drawn from each path's ``series``, day by day or hour by hour. Of several paths the
    first six are drawn one under another, and it is said how many more there are.
    """
    return _picture(answer, list(enumerate(answer.paths[:_MOST_PATHS], 1)), look)


def conditions_pages(answer: ConditionsAnswer) -> list[str]:
    """Draw the life lines for paper, each a picture and page of its own."""
    paths = list(enumerate(answer.paths[:_MOST_PATHS], 1))
    pages = [[numbered] for numbered in paths] or [[]]
    return [_picture(answer, page, PAPER) for page in pages]


def _picture(
    answer: ConditionsAnswer, paths: Sequence[tuple[int, ConditionPath]], look: Look
) -> str:
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
        top = draw_path(sheet, name, path, top)
    if whole > len(answer.paths[:_MOST_PATHS]):
        more = whole - len(answer.paths[:_MOST_PATHS])
        words = f"{more} more of {whole} paths are not drawn; the answer as JSON has their figures."
        top = sheet.paragraph(Place(MARGIN, top + 6), words, right, bold=True)
    notes = [*answer.notes, "All times are in UTC."]
    top = draw_notes(sheet, notes, answer.safety_note, top)
    said = [answer.in_words, *(path_in_words(path) for _, path in paths), answer.safety_note]
    return sheet.svg(top + MARGIN, name, title, " ".join(said))


def _path_heading(sheet: Sheet, number: int, whole: int, path: ConditionPath, top: float) -> float:
    right = sheet.wide - MARGIN
    if whole > 1:
        words = f"Path {number} of {whole}"
        top = sheet.paragraph(Place(MARGIN, top + 8), words, right, size=12.5, bold=True)
    lots = way_in_words(path)
    words = f"{lots}, {day_and_year(path.from_at)} to {day_and_year(path.until_at)}"
    return sheet.paragraph(Place(MARGIN, top), words, right)
