"""From times and values to places on the sheet, and where their axes are ticked."""

import math
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from rindline_server.pages.words import day, month

__all__ = ["Course", "Rise", "Tick", "age_ticks", "date_ticks", "rise_over"]

_DAY = timedelta(days=1)
_STEPS_H = (1, 3, 6, 12)
_STEPS_D = (1, 2, 7, 14)
_STEPS_MONTHS = (1, 2, 3, 6, 12, 24)
_AGE_STEPS_D = (1, 2, 7, 14, 28, 56, 84, 168, 336, 672)
_MONTH_D = 30.4
_LABEL = 17.0  # the height of a line of words


class Course(NamedTuple):
    """Time along the sheet, from left to right."""

    from_at: datetime
    until_at: datetime
    left: float
    right: float

    def x(self, at: datetime) -> float:
        """Give where a time stands; one outside is put at the edge."""
        whole = (self.until_at - self.from_at) / _DAY
        share = ((at - self.from_at) / _DAY) / whole if whole > 0 else 0.0
        return self.left + (self.right - self.left) * min(max(share, 0.0), 1.0)

    def ends(self, from_at: datetime, until_at: datetime, least: float) -> tuple[float, float]:
        """Give both ends of a time on the sheet, at least so far apart."""
        first, last = self.x(from_at), self.x(until_at)
        if last - first >= least:
            return first, last
        middle = min(max((first + last) / 2, self.left + least / 2), self.right - least / 2)
        return middle - least / 2, middle + least / 2

    @property
    def per_day(self) -> float:
        """How wide a day is."""
        return (self.right - self.left) / max((self.until_at - self.from_at) / _DAY, 1e-6)


class Rise(NamedTuple):
    """Values up the sheet, and the values that are ticked."""

    low: float
    high: float
    top: float
    bottom: float
    ticks: tuple[float, ...]

    def y(self, value: float) -> float:
        """Give where a value stands; one outside is put at the edge."""
        share = (value - self.low) / (self.high - self.low)
        return self.bottom - (self.bottom - self.top) * min(max(share, 0.0), 1.0)


class Tick(NamedTuple):
    """A time with what is written under it, and in a second line where that is new."""

    at: datetime
    label: str
    below: str


def rise_over(
    values: Iterable[float], top: float, bottom: float, least: float, bounds: tuple[float, float]
) -> Rise:
    """Give a scale over these values, at least so much from low to high, with 3 to 6 ticks.

    Above and below the values there is room for a label; ``bounds`` are the values that exist.
    """
    found = list(values) or [sum(bounds) / 2]
    low, high = min(found), max(found)
    spread = max(high - low, least)
    middle = (low + high) / 2
    share = min(_LABEL / (bottom - top), 0.3)
    half = spread / 2 / (1 - 2 * share)
    low, high = middle - half, middle + half
    step = next(
        size * 10.0**power
        for power in range(-1, 5)
        for size in (1.0, 2.0, 5.0)
        if (high - low) / (size * 10.0**power) <= 6
    )
    numbers = range(math.ceil(low / step), math.floor(high / step) + 1)
    inside = (step * number for number in numbers)
    ticks = tuple(value for value in inside if bounds[0] <= value <= bounds[1])
    return Rise(low, high, top, bottom, ticks)


def date_ticks(course: Course, room: float) -> list[Tick]:
    """Tick hours, days or months, at least ``room`` apart."""
    for step_h in _STEPS_H:
        if course.per_day * step_h / 24 >= room:
            return [
                Tick(at, f"{at:%H:%M}", day(at)) for at in _every(course, timedelta(hours=step_h))
            ]
    for step_d in _STEPS_D:
        if course.per_day * step_d >= room:
            return [Tick(at, day(at), str(at.year)) for at in _every(course, step_d * _DAY)]
    months = next((step for step in _STEPS_MONTHS if course.per_day * step * _MONTH_D >= room), 60)
    return [Tick(at, month(at), str(at.year)) for at in _months(course, months)]


def age_ticks(course: Course, counted_from: datetime, room: float) -> list[Tick]:
    """Tick whole days of age, each with its date."""
    step_d = next((step for step in _AGE_STEPS_D if course.per_day * step >= room), 1344)
    number = math.ceil((course.from_at - counted_from) / _DAY / step_d - 1e-9)
    ticks = []
    while (at := counted_from + timedelta(days=number * step_d)) <= course.until_at:
        ticks.append(Tick(at, str(number * step_d), day(at.astimezone(UTC))))
        number += 1
    return ticks


def _every(course: Course, step: timedelta) -> Iterator[datetime]:
    # A Monday, so that steps of a week or two begin on one.
    origin = datetime(1970, 1, 5, tzinfo=UTC)
    at = origin + math.ceil((course.from_at - origin) / step) * step
    while at <= course.until_at:
        yield at
        at += step


def _months(course: Course, step: int) -> Iterator[datetime]:
    first = course.from_at.astimezone(UTC)
    number = first.year * 12 + first.month - 1
    number -= number % step
    while True:
        at = datetime(number // 12, number % 12 + 1, 1, tzinfo=UTC)
        if at > course.until_at:
            return
        if at >= course.from_at:
            yield at
        number += step
