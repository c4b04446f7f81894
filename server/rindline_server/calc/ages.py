"""Ages: elapsed days of 24 hours, so that no change of the clock can make a day longer."""

__all__ = ["DAY_US", "days_between", "tenths_down", "tenths_up", "whole_days"]

DAY_US = 86_400_000_000
"""Microseconds in a day of 24 hours."""


def whole_days(from_us: int, until_us: int) -> int:
    """Give the days that are over: 59 days 23:59:59 are 59. Before the beginning it is negative."""
    return (until_us - from_us) // DAY_US


def days_between(from_us: int, until_us: int) -> float:
    """Give the days with their fraction."""
    return (until_us - from_us) / DAY_US


def tenths_down(span_us: int, unit_us: int = DAY_US) -> str:
    """Write a time in days to one decimal, never more than it was: 59.99 days are ``59.9``."""
    return _tenths(span_us * 10 // unit_us)


def tenths_up(span_us: int, unit_us: int = DAY_US) -> str:
    """Write a time in days to one decimal, never less than it was: 0.01 days are ``0.1``."""
    return _tenths(-(-span_us * 10 // unit_us))


def _tenths(tenths: int) -> str:
    whole, rest = divmod(abs(tenths), 10)
    return f"{'-' if tenths < 0 else ''}{whole}.{rest}"
