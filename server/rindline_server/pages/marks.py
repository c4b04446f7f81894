"""Marks of what was done to a wheel: one lane a kind, each kind of a shape of its own."""

import math
from collections.abc import Callable, Sequence

from rindline_schema.answers import Handling
from rindline_server.pages.lanes import LANE, name_lane
from rindline_server.pages.letters import height_above, height_below
from rindline_server.pages.scales import Course
from rindline_server.pages.sheet import INK, LEAST_SIZE, Box, Place, Sheet
from rindline_server.pages.words import number

__all__ = ["DONE", "draw_handlings", "kinds_of"]

DONE = {
    "turn": "turned",
    "brush": "brushed",
    "rub": "rubbed",
    "wash": "washed",
    "pierce": "pierced",
    "weigh": "weighed",
    "iron": "ironed",
    "cut": "cut",
    "sale": "sold",
}
"""The kinds in the order of their lanes, as they are written."""

_LABELLED = ("pierce", "iron", "cut", "sale")
_NEAREST = 2.0
_RADIUS = 4.0
_Shape = Callable[[Sheet, float, float], None]


def kinds_of(handlings: Sequence[Handling]) -> list[str]:
    """Give the kinds that occur, in the order of their lanes."""
    found = {one.kind for one in handlings}
    return [*(kind for kind in DONE if kind in found), *sorted(found - DONE.keys())]


def draw_handlings(
    sheet: Sheet, course: Course, kind: str, handlings: Sequence[Handling], top: float
) -> float:
    """Draw the lane of one kind: its marks, how many, and what belongs beside the mark."""
    done = DONE.get(kind, kind)
    name_lane(sheet, done, top)
    middle = top + LANE / 2
    line = f"M{course.left:.2f} {middle:.2f}H{course.right:.2f}"
    sheet.shape("path", d=line, stroke="#ccc", stroke_width=0.8)
    y = middle + (height_above(LEAST_SIZE) - height_below(LEAST_SIZE)) / 2
    sheet.label([Place(sheet.wide - 4, y, "end")], f"{len(handlings)}\u00d7", _lane(sheet, top))
    ordered = sorted(handlings, key=lambda one: one.at)
    places = [_place(course, one) for one in ordered]
    for x in _apart(places):
        _SHAPES.get(kind, _ring)(sheet, x, middle)
        sheet.keep_clear(Box(x - _RADIUS, top + 1, x + _RADIUS, top + LANE - 1))
    within = Box(course.left, top - 1, course.right, top + LANE + 1)
    for one, x in _worth_words(kind, list(zip(ordered, places, strict=True))):
        beside = (Place(x + _RADIUS + 3, y), Place(x - _RADIUS - 3, y, "end"))
        sheet.label(beside, _beside(one), within)
    return top + LANE


def _lane(sheet: Sheet, top: float) -> Box:
    return Box(0, top - 1, sheet.wide, top + LANE + 1)


def _place(course: Course, one: Handling) -> float:
    return min(max(course.x(one.at), course.left + _RADIUS), course.right - _RADIUS)


def _apart(places: Sequence[float]) -> list[float]:
    """Leave out marks that would only blacken the one before."""
    kept: list[float] = []
    for x in places:
        if not kept or x - kept[-1] >= _NEAREST:
            kept.append(x)
    return kept


def _worth_words(kind: str, placed: list[tuple[Handling, float]]) -> list[tuple[Handling, float]]:
    if kind == "weigh":
        return placed if len(placed) == 1 else [placed[0], placed[-1]]
    return placed if kind in _LABELLED else []


def _beside(one: Handling) -> str:
    if one.kind == "weigh":
        return "" if one.mass_g is None else f"{one.mass_g:,} g"
    age = f"{number(math.floor(one.age_days), 0)} d"
    return f"{age}, {one.grade}" if one.grade and len(one.grade) <= 6 else age


def _ring(sheet: Sheet, x: float, y: float) -> None:
    look: dict[str, str | float] = {"fill": "#fff", "stroke": INK, "stroke_width": 1.1}
    sheet.shape("circle", class_="mark", cx=x, cy=y, r=3.0, **look)


def _drawn(path: str, fill: str, thick: float = 1.2) -> _Shape:
    def draw(sheet: Sheet, x: float, y: float) -> None:
        moved = f"translate({x:.2f} {y:.2f})"
        look: dict[str, str | float] = {"fill": fill, "stroke": INK, "stroke_width": thick}
        sheet.shape("path", class_="mark", transform=moved, d=path, **look)

    return draw


_SHAPES: dict[str, _Shape] = {
    "turn": _ring,
    "brush": _drawn("M0 -4V4", "none", 1.6),
    "rub": _drawn("M-3 -3L3 3M-3 3L3 -3", "none", 1.4),
    "wash": _drawn("M0 -4C4 1 3 4 0 4S-4 1 0 -4Z", "#fff"),
    "pierce": _drawn("M-3.5 -4H3.5L0 4.5Z", INK),
    "weigh": _drawn("M-3 -3H3V3H-3Z", INK),
    "iron": _drawn("M0 -4.5L4 0L0 4.5L-4 0Z", "#fff", 1.4),
    "cut": _drawn("M-4 4L0 -4.5L4 4ZM0 -4.5V4", "#fff", 1.3),
    "sale": _drawn("M-3 5V-4.5L4 -2L-3 0.5", INK, 1.3),
}
