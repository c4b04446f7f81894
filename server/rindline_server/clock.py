"""The server's only clock: everything else is told the moment."""

from datetime import UTC, datetime

__all__ = ["now"]


def now() -> datetime:
    """Give the present moment, aware, in UTC, to the microsecond."""
    return datetime.now(UTC)
