"""Figures, times and spans in words, as they stand in a picture. All times are in UTC."""

from datetime import UTC, date, datetime, timedelta

__all__ = [
    "celsius",
    "day",
    "day_and_year",
    "hours",
    "moment",
    "month",
    "number",
    "per_cent",
    "times",
]

# Keeps a figure and its unit on one line.
_JOINT = "\u00a0"
_MINUS = "\u2212"
_MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def number(value: float, decimals: int = 1) -> str:
    """Write a figure, with a true minus sign and a comma at thousands."""
    text = f"{value:,.{decimals}f}"
    is_zero = not text.strip("-0.")
    return text.removeprefix("-") if is_zero else text.replace("-", _MINUS)


def celsius(value: float) -> str:
    """Write a temperature."""
    return f"{number(value)}{_JOINT}°C"


def per_cent(value: float) -> str:
    """Write a relative humidity."""
    return f"{number(value)}{_JOINT}%"


def hours(value: float) -> str:
    """Write a length of time given in hours, as finely as matters."""
    minutes = round(value * 60)
    if minutes < 60:
        return f"{minutes}{_JOINT}min"
    if minutes < 48 * 60:
        rest = minutes % 60
        whole = f"{minutes // 60}{_JOINT}h"
        return f"{whole} {rest}{_JOINT}min" if rest else whole
    days = f"{value / 24:.1f}".removesuffix(".0")
    return f"{days}{_JOINT}d"


def day(at: date) -> str:
    """Write a day of the year."""
    return f"{at.day}{_JOINT}{_MONTHS[at.month - 1]}"


def month(at: date) -> str:
    """Write a month."""
    return _MONTHS[at.month - 1]


def day_and_year(at: datetime) -> str:
    """Write a day with its year."""
    utc = at.astimezone(UTC)
    return f"{day(utc)}{_JOINT}{utc.year}"


def moment(at: datetime) -> str:
    """Write a day and a time of it, to the minute."""
    utc = (at + timedelta(seconds=30)).astimezone(UTC)
    return f"{day(utc)}{_JOINT}{utc:%H:%M}"


def times(count: int) -> str:
    """Write how often something was."""
    return "once" if count == 1 else f"{count} times"
