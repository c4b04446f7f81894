"""The band of rooms a lot lived in, and the list that says what each was like."""

from collections.abc import Sequence

from rindline_schema.answers import StayConditions
from rindline_server.pages.figures import MARGIN
from rindline_server.pages.lanes import name_lane
from rindline_server.pages.letters import LINE_EM, height_above, height_below
from rindline_server.pages.patterns import ROOMS
from rindline_server.pages.scales import Course
from rindline_server.pages.sheet import INK, LEAST_SIZE, Box, Place, Sheet
from rindline_server.pages.words import celsius, day, hours, per_cent

__all__ = ["BAND_HIGH", "draw_rooms", "list_rooms"]

BAND_HIGH = 24.0
_MOST_LISTED = 14
_ROW = LINE_EM * LEAST_SIZE


def draw_rooms(
    sheet: Sheet, name: str, course: Course, stays: Sequence[StayConditions], top: float
) -> float:
    """Draw each stay as a band of its room's fill, with its number and, if there is room, name."""
    name_lane(sheet, "rooms", top + 3)
    fills = _fills(stays)
    for stay in stays:
        left, right = course.ends(stay.from_at, stay.until_at, 1.5)
        fill = f"url(#{name}-room{fills[_room(stay)]})"
        band = {"x": left, "y": top, "width": right - left, "height": BAND_HIGH}
        sheet.shape("rect", class_="stay", **band, fill=fill, stroke=INK, stroke_width=0.9)
    y = top + (BAND_HIGH + height_above(LEAST_SIZE) - height_below(LEAST_SIZE)) / 2
    outside = []
    for number, stay in enumerate(stays, 1):
        left, right = course.ends(stay.from_at, stay.until_at, 1.5)
        place = Place((left + right) / 2, y, "middle")
        words = f"{number} {_name(stay)}"
        if sheet.width(words) + 4 > right - left:
            words = str(number)
        half = sheet.width(words) / 2 + 1
        if 2 * half > right - left:
            outside.append((words, place.x))
        elif sheet.label([place], words, Box(left, top, right, top + BAND_HIGH)):
            box = {"x": place.x - half, "y": top + 3.5, "width": 2 * half, "height": BAND_HIGH - 7}
            sheet.shape("rect", **box, rx=2, fill="#fff")
    return _numbers(sheet, outside, top + BAND_HIGH)


def _numbers(sheet: Sheet, outside: Sequence[tuple[str, float]], top: float) -> float:
    """Write under the band the numbers of stays too short for them, as near as can be."""
    if not outside:
        return top
    y = top + 4 + height_above(LEAST_SIZE)
    within = Box(0, top, sheet.wide, y + LEAST_SIZE)
    for words, middle in outside:
        places = [
            Place(middle + offset, y, "middle")
            for offset in (0.0, 4.0, -4.0, 8.0, -8.0, 12.0, -12.0, 16.0, -16.0)
        ]
        box = sheet.label(places, words, within)
        if box is not None:
            end = (box.left + box.right) / 2
            line = f"M{middle:.2f} {top:.2f}L{end:.2f} {top + 5:.2f}"
            sheet.shape("path", d=line, stroke=INK, stroke_width=0.8)
    return top + 4 + _ROW


def list_rooms(sheet: Sheet, name: str, stays: Sequence[StayConditions], top: float) -> float:
    """List the stays: number, fill, room, when, how long, and the means of its air."""
    fills = _fills(stays)
    right = sheet.wide - MARGIN
    for number, stay in enumerate(stays[:_MOST_LISTED], 1):
        y = top + height_above(LEAST_SIZE)
        sheet.text(Place(MARGIN + 14, y, "end"), str(number), bold=True)
        fill = f"url(#{name}-room{fills[_room(stay)]})"
        swatch = {"x": MARGIN + 20, "y": top + 2, "width": 20, "height": 11}
        sheet.shape("rect", **swatch, fill=fill, stroke=INK, stroke_width=0.9)
        top = sheet.paragraph(Place(MARGIN + 47, top), _in_words(stay), right, most=4)
    if len(stays) > _MOST_LISTED:
        words = f"{len(stays) - _MOST_LISTED} more stays"
        top = sheet.paragraph(Place(MARGIN + 47, top), words, right)
    return top


def _in_words(stay: StayConditions) -> str:
    figures = stay.figures
    until = "now" if stay.still_there else day(stay.until_at)
    parts = [f"{_name(stay)}, {day(stay.from_at)} to {until}, {hours(figures.hours)}"]
    air = []
    if figures.temperature is not None:
        air.append(celsius(figures.temperature.mean_c))
    if figures.humidity is not None:
        air.append(per_cent(figures.humidity.mean_pct))
    parts.append(" and ".join(air) if air else "no reading")
    return ": ".join(parts)


def _name(stay: StayConditions) -> str:
    return stay.room_name or stay.room or "room not told"


def _room(stay: StayConditions) -> tuple[str, str | None]:
    return stay.site, stay.room


def _fills(stays: Sequence[StayConditions]) -> dict[tuple[str, str | None], int]:
    """Give each room its fill, in the order in which they were lived in."""
    rooms = dict.fromkeys(map(_room, stays))
    return {room: number % ROOMS for number, room in enumerate(rooms)}
