"""The one place of the SDK that reads clocks, sleeps and draws random numbers.

Everything else is given a :class:`Clock`, so that tests (ours and yours) need not wait.
"""

import asyncio
import os
import random
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

__all__ = ["Clock", "RealClock", "boot_name"]


class Clock(Protocol):
    """Time and chance, as the SDK needs them."""

    def now(self) -> datetime:
        """Give the time, with its offset from UTC."""
        ...

    def monotonic_s(self) -> float:
        """Give seconds from some fixed moment on; never goes back."""
        ...

    def chance(self) -> float:
        """Draw a number from 0 up to, but not, 1."""
        ...

    def random_bytes(self, count: int) -> bytes:
        """Draw random bytes that nobody can guess."""
        ...

    def sleep(self, seconds: float) -> None:
        """Wait."""
        ...

    async def sleep_async(self, seconds: float) -> None:
        """Wait and let other tasks run."""
        ...


# Goes on while the machine sleeps, so that an event's age is right after that; Linux has it.
_STEADY: int | None = getattr(time, "CLOCK_BOOTTIME", None)


def boot_name() -> str:
    """Give a text that stays the same until the machine starts anew.

    Where the system does not say, one for this process: ages then rest on the wall clock.
    """
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
    except (OSError, ValueError):
        return _PROCESS


_PROCESS = os.urandom(16).hex()


class RealClock:
    """The machine's clock and its source of randomness."""

    # The system's source needs no seed and is not shared with a program that seeds its own.
    _random = random.SystemRandom()

    def now(self) -> datetime:
        """Give the time with the machine's own offset: a station tells its local time."""
        return datetime.now(UTC).astimezone()

    def monotonic_s(self) -> float:
        """Give seconds from some fixed moment on; never goes back."""
        return time.clock_gettime(_STEADY) if _STEADY is not None else time.monotonic()

    def chance(self) -> float:
        """Draw a number from 0 up to, but not, 1."""
        return self._random.random()

    def random_bytes(self, count: int) -> bytes:
        """Draw random bytes that nobody can guess."""
        return os.urandom(count)

    def sleep(self, seconds: float) -> None:
        """Wait."""
        time.sleep(seconds)

    async def sleep_async(self, seconds: float) -> None:
        """Wait and let other tasks of the event loop run."""
        await asyncio.sleep(seconds)
