"""Temperature and humidity one above the other, each with what was marked beneath it."""

from collections.abc import Sequence
from typing import NamedTuple

from rindline_schema.answers import Doubt
from rindline_server.pages.figures import MARGIN
from rindline_server.pages.lanes import Lettered, draw_doubts, draw_spells
from rindline_server.pages.letters import height_above
from rindline_server.pages.pieces import Gap, Quantity
from rindline_server.pages.scales import Course, Tick
from rindline_server.pages.sheet import LEAST_SIZE, Box, Place, Sheet
from rindline_server.pages.strips import draw_strip

__all__ = ["Marked", "draw_quantities"]

_CAPTION = 20.0


class Marked(NamedTuple):
    """What is marked beneath the strips: spells with their letters, and doubts."""

    lettered: list[Lettered]
    doubts: Sequence[Doubt]


def draw_quantities(
    sheet: Sheet,
    name: str,
    course: Course,
    quantities: Sequence[Quantity],
    marked: Marked,
    ticks: Sequence[Tick],
    top: float,
    above: float,
) -> float:
    """Draw the strips from ``top`` on, each ``above`` units below the last; gives where they end.

    A gap that two quantities share is named in the upper one only.
    """
    named: list[Gap] = []
    for quantity, high in zip(quantities, sheet.look.strips, strict=True):
        caption = f"{quantity.name}, {quantity.unit}"
        sheet.text(Place(MARGIN, top + above + height_above(LEAST_SIZE)), caption, bold=True)
        begin = top + above + _CAPTION
        within = Box(course.left, begin, course.right, begin + high)
        draw_strip(sheet, name, course, quantity, within, ticks, named)
        top, named = within.bottom, quantity.gaps
        for what in sorted({spell.what for spell in quantity.spells}, reverse=True):
            own = [spell for spell in quantity.spells if spell.what == what]
            top = draw_spells(sheet, course, what, own, marked.lettered, top)
    return draw_doubts(sheet, course, marked.doubts, top) if marked.doubts else top
