"""The days of the story: fixed, so that it is the same whenever it is told."""

from datetime import UTC, date, datetime, timedelta, timezone

__all__ = ["FIRST_DAY", "LAST_DAY", "at", "date_of", "day_of", "is_workday", "unix_ms"]

_ZONE = timezone(timedelta(hours=1))
_START = datetime(2025, 2, 3, tzinfo=_ZONE)

FIRST_DAY = -7
"""The day the registers are written and the first ingredients come; day 0 is the first make."""

LAST_DAY = 83
"""The Sunday on which the twelve weeks end."""


def at(day: int, hour: int, minute: float = 0) -> datetime:
    """Give a time of the story; minutes may exceed the hour."""
    return _START + timedelta(days=day, hours=hour, minutes=minute)


def day_of(moment: datetime) -> int:
    """Give the day of the story a time belongs to, by the dairy's own clock."""
    return (moment.astimezone(_ZONE) - _START).days


def is_workday(day: int) -> bool:
    """Tell whether the cutting room works: Monday to Friday."""
    return day % 7 < 5


def date_of(day: int) -> date:
    """Give the date of a day of the story."""
    return at(day, 12).date()


def unix_ms(moment: datetime) -> int:
    """Give milliseconds since 1970."""
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)
