"""Lanes: narrow rows under the strips in which something is marked at its time."""

from collections.abc import Sequence
from typing import NamedTuple

from rindline_schema.answers import Doubt
from rindline_server.pages.letters import height_above, height_below
from rindline_server.pages.pieces import Spell
from rindline_server.pages.scales import Course
from rindline_server.pages.sheet import INK, LEAST_SIZE, Box, Place, Sheet

__all__ = ["LANE", "Lettered", "draw_doubts", "draw_spells", "graver", "name_lane"]

LANE = 17.0
_LETTERED = 8
_BAR = 3.0
_RED = "#8a1c10"


class Lettered(NamedTuple):
    """A spell, and the letter that stands by its mark."""

    letter: str
    spell: Spell


def graver(spells: Sequence[Spell]) -> list[Lettered]:
    """Give letters to the longest spells, in the order of their times."""
    longest = sorted(spells, key=lambda one: -one.minutes)[:_LETTERED]
    ordered = sorted(longest, key=lambda one: (one.from_at, one.what))
    return [Lettered(chr(ord("A") + number), one) for number, one in enumerate(ordered)]


def name_lane(sheet: Sheet, words: str, top: float) -> None:
    """Write what a lane shows, to the left of it."""
    sheet.text(Place(8, _line(top)), words)


def draw_spells(
    sheet: Sheet,
    course: Course,
    what: str,
    spells: Sequence[Spell],
    lettered: Sequence[Lettered],
    top: float,
) -> float:
    """Mark one kind of spells by bars with a triangle each, the longest with their letter."""
    name_lane(sheet, what, top)
    marks = []
    for spell in spells:
        left, right = course.ends(spell.from_at, spell.until_at, 2.0)
        _triangle(sheet, left, right, top, is_above=spell.is_above)
        middle = (left + right) / 2
        marks.append(Box(middle - 4, top, middle + 4, top + LANE))
    for one in lettered:
        if one.spell.what == what:
            left, right = course.ends(one.spell.from_at, one.spell.until_at, 2.0)
            _letter(sheet, one.letter, (left + right) / 2, top, marks)
    return top + LANE


def _triangle(sheet: Sheet, left: float, right: float, top: float, *, is_above: bool) -> None:
    base, tip = (top + LANE - 2, top + 4) if is_above else (top + 4, top + LANE - 2)
    bar, middle = base - _BAR if is_above else base, (left + right) / 2
    sheet.shape("rect", class_="spell", x=left, y=bar, width=right - left, height=_BAR, fill=_RED)
    corners = f"M{middle - 4:.2f} {base:.2f}L{middle:.2f} {tip:.2f}L{middle + 4:.2f} {base:.2f}Z"
    sheet.shape("path", d=corners, fill=_RED)


def _letter(sheet: Sheet, letter: str, middle: float, top: float, marks: Sequence[Box]) -> None:
    within = Box(0, top - 1, sheet.wide, top + LANE + 1)
    places = [
        Place(middle + side * offset, _line(top), "start" if side > 0 else "end")
        for offset in (6.0, 15.0, 24.0, 33.0, 42.0, 60.0)
        for side in (1, -1)
    ]
    sheet.label(places, letter, within, bold=True, shun=marks)


def draw_doubts(sheet: Sheet, course: Course, doubts: Sequence[Doubt], top: float) -> float:
    """Mark the times whose readings are hard to believe: a bracket with question marks."""
    name_lane(sheet, "in doubt", top)
    within = Box(course.left, top - 1, sheet.wide, top + LANE + 1)
    for one in doubts:
        left, right = course.ends(one.from_at, one.until_at, 3.0)
        bracket = f"M{left:.2f} {top + 5:.2f}v10H{right:.2f}v-10"
        sheet.shape("path", class_="doubt", d=bracket, fill="none", stroke=INK, stroke_width=1.2)
    for one in doubts:
        left, right = course.ends(one.from_at, one.until_at, 3.0)
        inside = Place((left + right) / 2, _line(top), "middle")
        beside = (Place(right + 3, _line(top)), Place(left - 3, _line(top), "end"))
        wide = right - left > 14
        sheet.label((inside, *beside) if wide else beside, "?", within, bold=True)
    return top + LANE


def _line(top: float) -> float:
    """Give what the letters of a lane stand on."""
    return top + (LANE + height_above(LEAST_SIZE) - height_below(LEAST_SIZE)) / 2
