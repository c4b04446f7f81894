"""Times as microseconds since 1970 UTC: exact, and the same in every database."""

from datetime import UTC, datetime, timedelta

__all__ = ["from_us", "to_us"]

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)


def to_us(moment: datetime) -> int:
    """Turn an aware time into microseconds since 1970."""
    return (moment - _EPOCH) // _MICROSECOND


def from_us(at_us: int) -> datetime:
    """Turn microseconds since 1970 into an aware time in UTC."""
    return _EPOCH + timedelta(microseconds=at_us)
