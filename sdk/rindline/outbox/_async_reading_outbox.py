"""The outbox of a logger for asyncio: the same, awaited; the disk is written in threads."""

import asyncio
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from rindline._clock import Clock
from rindline._retries import RetryPolicy
from rindline.async_client import AsyncClient
from rindline.outbox._async_sending import AsyncSending
from rindline.outbox._reading_core import ReadingCore
from rindline.outbox._reading_entries import ReadingOutboxStatus, ReadingSetAside
from rindline_schema.answers import Reading

__all__ = ["AsyncReadingOutbox"]


class AsyncReadingOutbox:
    """As :class:`rindline.ReadingOutbox`; a task sends, which starts with ``async with``."""

    def __init__(
        self,
        path: str | Path,
        client: AsyncClient | None = None,
        *,
        drains: bool = True,
        policy: RetryPolicy | None = None,
        clock: Clock | None = None,
    ) -> None:
        self._core = core = ReadingCore(path, clock=clock, policy=policy)
        self._drains = drains
        self._sending = AsyncSending(client, core.lock, core.clock, core.steps, core.queued)

    async def __aenter__(self) -> Self:
        if self._drains:
            self._sending.start()
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        await self.close()

    async def close(self, *, wait_s: float = 5.0) -> None:
        """As :meth:`rindline.ReadingOutbox.close`; an attempt on its way is given up."""
        await self._sending.stop(wait_s)
        await asyncio.to_thread(self._core.file.close)

    async def read(
        self,
        sensor: str,
        *,
        temperature_c: float | None = None,
        humidity_pct: float | None = None,
        at: datetime | None = None,
    ) -> Reading:
        """As :meth:`rindline.ReadingOutbox.read`."""
        reading = Reading(
            sensor=sensor,
            at=at or self._core.clock.now(),
            temperature_c=temperature_c,
            humidity_pct=humidity_pct,
        )
        await self.many([reading])
        return reading

    async def many(self, readings: Iterable[Reading]) -> int:
        """As :meth:`rindline.ReadingOutbox.many`."""
        kept = list(readings)
        await asyncio.to_thread(self._core.queue.keep, kept)
        self._sending.wake.set()
        return len(kept)

    async def status(self) -> ReadingOutboxStatus:
        """As :meth:`rindline.ReadingOutbox.status`."""
        return await asyncio.to_thread(self._core.status)

    async def set_aside(self) -> list[ReadingSetAside]:
        """As :meth:`rindline.ReadingOutbox.set_aside`."""
        return await asyncio.to_thread(self._core.queue.set_aside)

    async def resend(self) -> int:
        """As :meth:`rindline.ReadingOutbox.resend`."""
        count = await asyncio.to_thread(self._core.queue.resend)
        self._sending.wake.set()
        return count

    async def drop(self) -> int:
        """As :meth:`rindline.ReadingOutbox.drop`."""
        return await asyncio.to_thread(self._core.queue.drop)

    async def send(self, *, deadline_s: float = 60.0) -> ReadingOutboxStatus:
        """As :meth:`rindline.ReadingOutbox.send`."""
        await self._sending.drain(deadline_s)
        return await self.status()
