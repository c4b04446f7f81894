"""How a best-before date is worded: Regulation (EU) No 1169/2011, annex X, point 1.

Day, month and year always do. Of a food that keeps for no more than three months day and month
suffice; of one that keeps for longer, but no more than eighteen, month and year; of one that
keeps for longer than eighteen months, the year. Without a day the words promise the whole month
or year, so the date is then set back to the end of the last one that is whole: a label never
promises more than the record.
"""

from calendar import monthrange
from datetime import date, timedelta
from typing import Literal, NamedTuple

from rindline_schema.labels.words import Words

__all__ = ["BestBefore", "BestBeforeForm", "best_before"]

BestBeforeForm = Literal["day", "short"]
"""``day``: day, month and year. ``short``: the least that the regulation asks for."""


class BestBefore(NamedTuple):
    """The words and what stands after them, and the last day that they promise."""

    words: str
    text: str
    day: date


def _months_later(day: date, months: int) -> date:
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def best_before(
    from_day: date, until: date, words: Words, form: BestBeforeForm = "day"
) -> BestBefore:
    """Word the date ``until`` which a food keeps that was packed (or made) on ``from_day``.

    Raises ValueError if it would not keep at all.
    """
    if until < from_day:
        raise ValueError(f"best before {until} lies before {from_day}, when it was packed or made")
    if form == "day":
        return BestBefore(words.best_before, words.day(until), until)
    if until <= _months_later(from_day, 3):
        return BestBefore(words.best_before, words.day(until, year=False), until)
    if until <= _months_later(from_day, 18):
        # The day before the first of the month that holds the day after `until`.
        end = (until + timedelta(days=1)).replace(day=1) - timedelta(days=1)
        return BestBefore(words.best_before_end, words.month(end), end)
    end = (until + timedelta(days=1)).replace(month=1, day=1) - timedelta(days=1)
    return BestBefore(words.best_before_end, str(end.year), end)
