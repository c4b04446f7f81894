"""The labels within a strip: limits by their values, gaps by why they are there.

A label stands where no other does, and off the course and the lines if it can.
"""

from collections.abc import Collection, Iterator, Sequence

from rindline_server.pages.letters import height_above, height_below
from rindline_server.pages.pieces import Gap, Limit, Piece, Quantity
from rindline_server.pages.scales import Course, Rise
from rindline_server.pages.sheet import LEAST_SIZE, Anchor, Box, Place, Sheet
from rindline_server.pages.words import number

__all__ = ["SMALLEST", "label_strip"]

SMALLEST = 2.0
"""Nothing is drawn narrower, however short it was."""

_LABELLED_GAPS = 4
_COLUMN = 8.0


def label_strip(
    sheet: Sheet,
    course: Course,
    rise: Rise,
    quantity: Quantity,
    within: Box,
    named: Collection[Gap],
) -> None:
    """Label a strip; beside gaps that are ``named`` in another strip nothing is written."""
    shun = [
        *_inked(course, rise, quantity.pieces),
        *_hatched(course, quantity.gaps, within),
        *_ruled(course, rise, quantity),
    ]
    _name_limits(sheet, course, rise, quantity.limits, within, shun)
    _name_gaps(sheet, course, quantity.gaps, within, shun, named)


def _inked(course: Course, rise: Rise, pieces: Sequence[Piece]) -> Iterator[Box]:
    """Give the places the band covers, in columns wide enough to be few."""
    column: list[Piece] = []
    for piece in pieces:
        if column and course.x(piece.until_at) - course.x(column[0].from_at) > _COLUMN:
            yield _column(course, rise, column)
            column = []
        column.append(piece)
    if column:
        yield _column(course, rise, column)


def _column(course: Course, rise: Rise, pieces: Sequence[Piece]) -> Box:
    top = rise.y(max(piece.most for piece in pieces))
    bottom = rise.y(min(piece.least for piece in pieces))
    return Box(course.x(pieces[0].from_at), top - 1, course.x(pieces[-1].until_at), bottom + 1)


def _hatched(course: Course, gaps: Sequence[Gap], within: Box) -> Iterator[Box]:
    for gap in gaps:
        left, right = course.ends(gap.from_at, gap.until_at, SMALLEST)
        yield Box(left, within.top, right, within.bottom)


def _ruled(course: Course, rise: Rise, quantity: Quantity) -> Iterator[Box]:
    """Give the places of the limits' lines and of what lay beyond them."""
    for limit in quantity.limits:
        y = rise.y(limit.value)
        yield Box(course.x(limit.from_at), y - 0.6, course.x(limit.until_at), y + 0.6)
    for spell in quantity.spells:
        if spell.limit is not None and spell.worst is not None:
            left, right = course.ends(spell.from_at, spell.until_at, SMALLEST)
            top, bottom = sorted((rise.y(spell.limit), rise.y(spell.worst)))
            yield Box(left, top, right, bottom)


def _name_gaps(
    sheet: Sheet,
    course: Course,
    gaps: Sequence[Gap],
    within: Box,
    shun: Sequence[Box],
    named: Collection[Gap],
) -> None:
    """Say in or beside the longest gaps why they are there; the key says it of all."""
    middle = (within.top + within.bottom) / 2 + height_above(LEAST_SIZE) / 2 - 2
    half = (within.bottom - within.top) / 2 - height_above(LEAST_SIZE)
    heights = [middle + half * share for share in (0, -0.5, 0.5, -0.95, 0.95)]
    longest = sorted(gaps, key=lambda gap: gap.from_at - gap.until_at)[:_LABELLED_GAPS]
    for gap in longest:
        left, right = course.ends(gap.from_at, gap.until_at, SMALLEST)
        if sheet.width(gap.why) + 6 <= right - left:
            places = [Place((left + right) / 2, y, "middle") for y in heights]
            sheet.label(places, gap.why, within)
        elif gap not in named:
            after, before = f"\u2190 {gap.why}", f"{gap.why} \u2192"
            beside = (Place(right + 2, 0), Place(left - 2, 0, "end"))
            places = [side._replace(y=y) for y in heights for side in beside]
            found = sheet.find(places, after, within, shun=shun)
            if found is not None:
                words = after if found.anchor == "start" else before
                sheet.text(found, words, halo=True)


def _name_limits(
    sheet: Sheet,
    course: Course,
    rise: Rise,
    limits: Sequence[Limit],
    within: Box,
    shun: Sequence[Box],
) -> None:
    """Write each limit's value at its line, outside of what it allows if there is room."""
    said: set[tuple[str, float]] = set()
    for limit in limits:
        if (limit.side, limit.value) in said:
            continue
        left, right = course.ends(limit.from_at, limit.until_at, SMALLEST)
        y = rise.y(limit.value)
        over, under = y - height_below(LEAST_SIZE) - 1, y + height_above(LEAST_SIZE) + 1
        heights = (over, under) if limit.side == "most" else (under, over)
        words = f"{limit.side} {number(limit.value)}"
        ends: tuple[tuple[float, Anchor], ...] = (
            (left + 3, "start"),
            (right - 3, "end"),
            ((left + right) / 2, "middle"),
        )
        places = [Place(x, height, anchor) for height in heights for x, anchor in ends]
        if sheet.label(places, words, within, shun=shun):
            said.add((limit.side, limit.value))
