"""A clock that moves only when somebody sleeps, and chance without surprise."""

import asyncio
from datetime import UTC, datetime, timedelta

__all__ = ["FakeClock"]

_START = datetime(2026, 1, 5, 6, 0, tzinfo=UTC)


class FakeClock:
    """Stands in for time and chance: sleeping takes no time but moves this clock on.

    ``slept`` lists the seconds asked for. ``luck`` (from 0 up to, but not, 1) is what every draw
    gives; random bytes count upwards, so that ids differ and repeat from run to run.
    """

    def __init__(self, start: datetime = _START, *, luck: float = 0.5) -> None:
        self._start = start
        self._drawn = 0
        self.passed_s = 0.0
        self.luck = luck
        self.slept: list[float] = []

    def now(self) -> datetime:
        """Give the start and what has passed since."""
        return self._start + timedelta(seconds=self.passed_s)

    def monotonic_s(self) -> float:
        """Give the seconds that have passed."""
        return self.passed_s

    def chance(self) -> float:
        """Give ``luck``."""
        return self.luck

    def random_bytes(self, count: int) -> bytes:
        """Give the next number, as bytes."""
        self._drawn += 1
        return self._drawn.to_bytes(count, "big")

    def sleep(self, seconds: float) -> None:
        """Move on at once."""
        self.slept.append(seconds)
        self.passed_s += seconds

    async def sleep_async(self, seconds: float) -> None:
        """Move on at once, after other tasks had a turn."""
        self.sleep(seconds)
        await asyncio.sleep(0)
