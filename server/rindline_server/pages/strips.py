"""The strip of one quantity: its course, the limits, what lay beyond them, and the gaps."""

from collections.abc import Collection, Iterable, Sequence

from rindline_server.pages.labelling import SMALLEST, label_strip
from rindline_server.pages.letters import LINE_EM, height_above, height_below
from rindline_server.pages.patterns import BEYOND, GAP
from rindline_server.pages.pieces import Gap, Limit, Piece, Quantity, Spell
from rindline_server.pages.scales import Course, Rise, Tick, rise_over
from rindline_server.pages.sheet import INK, LEAST_SIZE, Box, Place, Sheet
from rindline_server.pages.words import number

__all__ = ["BAND", "COURSE", "LIMIT_DASH", "draw_axis", "draw_strip"]

BAND, COURSE = "#bcd0dc", "#123f5a"
LIMIT_DASH = "7 3"
_GRID = "#ddd"
_ROW = LINE_EM * LEAST_SIZE
_CROWD = 200


def draw_strip(
    sheet: Sheet,
    name: str,
    course: Course,
    quantity: Quantity,
    within: Box,
    ticks: Sequence[Tick],
    named: Collection[Gap] = (),
) -> None:
    """Draw a strip; ``name`` is the picture's, for its fills.

    Beside gaps that are ``named`` in another strip nothing is written.
    """
    _, top, _, bottom = within
    rise = rise_over(quantity.values(), top, bottom, quantity.least_rise, quantity.bounds)
    _grid(sheet, course, rise, ticks)
    _band(sheet, course, rise, quantity.pieces)
    for spell in quantity.spells:
        _beyond(sheet, name, course, rise, spell)
    _mean(sheet, course, rise, quantity.pieces)
    for gap in quantity.gaps:
        _hatch(sheet, name, course, rise, gap)
    for limit in quantity.limits:
        _limit(sheet, course, rise, limit)
    wide, high = course.right - course.left, bottom - top
    frame = {"x": course.left, "y": top, "width": wide, "height": high}
    sheet.shape("rect", **frame, fill="none", stroke=INK, stroke_width=0.8)
    label_strip(sheet, course, rise, quantity, within, named)


def draw_axis(
    sheet: Sheet, course: Course, ticks: Sequence[Tick], top: float, names: tuple[str, str]
) -> float:
    """Write the times under the strips; the second line only where it says something new."""
    first, second = top + 3 + height_above(LEAST_SIZE), top + 3 + height_above(LEAST_SIZE) + _ROW
    within = Box(course.left - 16, top, sheet.wide, top + 4 + 2 * _ROW + 4)
    for words, y in zip(names, (first, second), strict=True):
        if words:
            sheet.text(Place(8, y), words)
    said = ""
    for tick in ticks:
        x = course.x(tick.at)
        sheet.shape("path", d=f"M{x:.2f} {top:.2f}v4", stroke=INK)
        _centred(sheet, x, first, tick.label, within)
        if tick.below != said and _centred(sheet, x, second, tick.below, within):
            said = tick.below
    return top + 4 + 2 * _ROW


def _centred(sheet: Sheet, x: float, y: float, words: str, within: Box) -> bool:
    half = sheet.width(words) / 2
    place = Place(min(max(x, within.left + half), within.right - half - 0.1), y, "middle")
    return sheet.label([place], words, within) is not None


def _grid(sheet: Sheet, course: Course, rise: Rise, ticks: Sequence[Tick]) -> None:
    wide = course.right - course.left
    for tick in ticks:
        x = course.x(tick.at)
        sheet.shape("path", d=f"M{x:.2f} {rise.top:.2f}V{rise.bottom:.2f}", stroke=_GRID)
    decimals = 0 if all(value == round(value) for value in rise.ticks) else 1
    # Between the name of the strip above and the name of a lane below.
    within = Box(0, rise.top - 4, course.left, rise.bottom)
    for value in rise.ticks:
        y = rise.y(value)
        sheet.shape("path", d=f"M{course.left:.2f} {y:.2f}h{wide:.2f}", stroke=_GRID)
        middle = y + (height_above(LEAST_SIZE) - height_below(LEAST_SIZE)) / 2
        lowest, highest = (
            within.bottom - height_below(LEAST_SIZE),
            within.top + height_above(LEAST_SIZE),
        )
        middle = min(max(middle, highest), lowest)
        sheet.label([Place(course.left - 4, middle, "end")], number(value, decimals), within)


def _runs(pieces: Iterable[Piece]) -> list[list[Piece]]:
    """Part the pieces where one does not begin as the last ends."""
    runs: list[list[Piece]] = []
    for piece in pieces:
        if runs and runs[-1][-1].until_at == piece.from_at:
            runs[-1].append(piece)
        else:
            runs.append([piece])
    return runs


def _band(sheet: Sheet, course: Course, rise: Rise, pieces: Sequence[Piece]) -> None:
    for run in _runs(pieces):
        over = [_level(course, piece, rise.y(piece.most)) for piece in run]
        under = [_level(course, piece, rise.y(piece.least)) for piece in reversed(run)]
        back = [f"{last} {first}" for first, last in (level.split(" ") for level in under)]
        sheet.shape("path", class_="band", d=f"M{'L'.join([*over, *back])}Z", fill=BAND)


def _mean(sheet: Sheet, course: Course, rise: Rise, pieces: Sequence[Piece]) -> None:
    thick = 1.5 if len(pieces) < _CROWD else 1.0
    look: dict[str, str | float] = {"fill": "none", "stroke": COURSE, "stroke_width": thick}
    for run in _runs(pieces):
        steps = [_level(course, piece, rise.y(piece.mean)) for piece in run]
        sheet.shape("path", class_="mean", d=f"M{'L'.join(steps)}", **look)


def _level(course: Course, piece: Piece, y: float) -> str:
    return f"{course.x(piece.from_at):.2f},{y:.2f} {course.x(piece.until_at):.2f},{y:.2f}"


def _beyond(sheet: Sheet, name: str, course: Course, rise: Rise, spell: Spell) -> None:
    """Mark how long and how far a spell went: from the limit to the worst."""
    if spell.limit is None or spell.worst is None:
        return
    left, right = course.ends(spell.from_at, spell.until_at, SMALLEST)
    top, bottom = sorted((rise.y(spell.limit), rise.y(spell.worst)))
    sheet.shape(
        "rect",
        class_="beyond",
        x=left,
        y=top,
        width=right - left,
        height=max(bottom - top, 1.0),
        fill=f"url(#{name}-{BEYOND})",
        stroke="#8a1c10",
        stroke_width=0.8,
    )


def _hatch(sheet: Sheet, name: str, course: Course, rise: Rise, gap: Gap) -> None:
    left, right = course.ends(gap.from_at, gap.until_at, SMALLEST)
    place = {"x": left, "y": rise.top, "width": right - left, "height": rise.bottom - rise.top}
    sheet.shape("rect", class_="gap", **place, fill=f"url(#{name}-{GAP})")
    for x in (left, right):
        edge = f"M{x:.2f} {rise.top:.2f}V{rise.bottom:.2f}"
        sheet.shape("path", d=edge, stroke="#555", stroke_width=0.8)


def _limit(sheet: Sheet, course: Course, rise: Rise, limit: Limit) -> None:
    left, right = course.ends(limit.from_at, limit.until_at, SMALLEST)
    line = f"M{left:.2f} {rise.y(limit.value):.2f}H{right:.2f}"
    sheet.shape(
        "path", class_="limit", d=line, stroke="#000", stroke_width=1.3, stroke_dasharray=LIMIT_DASH
    )
