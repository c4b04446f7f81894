"""The outbox for asyncio: disk and clock as in the other, the sending in a task."""

import asyncio
from collections.abc import Coroutine, Iterable
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeAlias
from uuid import UUID

from rindline._clock import Clock
from rindline._retries import RetryPolicy
from rindline._telling import Telling
from rindline.async_client import AsyncClient
from rindline.outbox._async_sending import AsyncSending
from rindline.outbox._core import Core
from rindline.outbox._entries import EntryState, OutboxEntry, OutboxStatus, Queued
from rindline_schema.events import Correct, Event, Fact
from rindline_schema.registers import LotKind

__all__ = ["AsyncCodes", "AsyncOutbox"]

_CODES_S = 0.1
_Queued: TypeAlias = Coroutine[Any, Any, Queued]


class AsyncOutbox(Telling[_Queued, _Queued]):
    """As :class:`rindline.Outbox`; the disk is written in threads, a task sends.

    The task starts with ``async with``. Each method is as in the other.
    """

    def __init__(
        self,
        path: str | Path,
        client: AsyncClient | None = None,
        *,
        drains: bool = True,
        policy: RetryPolicy | None = None,
        clock: Clock | None = None,
    ) -> None:
        self._core = Core(path, clock=clock, policy=policy)
        self._clock = self._core.clock
        core = self._core
        self._drains = drains
        self._sending = AsyncSending(
            client, core.lock, core.clock, core.steps, lambda: core.queue.counts()[0]
        )

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
        """As :meth:`rindline.Outbox.close`; an attempt on its way is given up."""
        await self._sending.stop(wait_s)
        await asyncio.to_thread(self._core.file.close)

    # --- telling (a method for each kind of event is in Telling) ------------------------------

    async def tell(self, event: Event) -> Queued:
        """As :meth:`rindline.Outbox.tell`."""
        return (await self.tell_many([event]))[0]

    async def tell_many(self, events: Iterable[Event]) -> list[Queued]:
        """As :meth:`rindline.Outbox.tell_many`."""
        kept = await asyncio.to_thread(self._core.queue.keep, list(events))
        self._sending.wake.set()
        return kept

    def _tell_fact(self, event: Fact) -> _Queued:
        return self.tell(event)

    def _tell_correction(self, event: Correct) -> _Queued:
        return self.tell(event)

    # --- looking and mending ------------------------------------------------------------------

    async def status(self) -> OutboxStatus:
        """As :meth:`rindline.Outbox.status`."""
        return await asyncio.to_thread(self._core.status)

    async def entries(self, *states: EntryState) -> list[OutboxEntry]:
        """As :meth:`rindline.Outbox.entries`."""
        wanted = states or ("queued", "set_aside")
        return await asyncio.to_thread(self._core.queue.entries, *wanted)

    async def entry(self, id: UUID) -> OutboxEntry:  # noqa: A002 - the field's name
        """As :meth:`rindline.Outbox.entry`."""
        return await asyncio.to_thread(self._core.queue.entry, id)

    async def mend(self, id: UUID, event: Event) -> Queued:  # noqa: A002 - as above
        """As :meth:`rindline.Outbox.mend`."""
        queued = await asyncio.to_thread(self._core.queue.mend, id, event)
        self._sending.wake.set()
        return queued

    async def resend(self, id: UUID | None = None) -> int:  # noqa: A002 - as above
        """As :meth:`rindline.Outbox.resend`."""
        count = await asyncio.to_thread(self._core.queue.resend, id)
        self._sending.wake.set()
        return count

    # --- lot codes ----------------------------------------------------------------------------

    async def codes(
        self, kind: LotKind, *, site: str | None = None, reserve: int = 200, days: int = 3
    ) -> "AsyncCodes":
        """As :meth:`rindline.Outbox.codes`."""
        await asyncio.to_thread(self._core.blocks.want, kind, site, reserve, days)
        self._sending.wake.set()
        return AsyncCodes(self._core, self._sending.wake, kind, site)

    # --- sending ------------------------------------------------------------------------------

    async def drain(self, *, deadline_s: float = 60.0) -> OutboxStatus:
        """As :meth:`rindline.Outbox.drain`."""
        await self._sending.drain(deadline_s)
        return await self.status()


class AsyncCodes:
    """As :class:`rindline.outbox.Codes`."""

    def __init__(self, core: Core, wake: asyncio.Event, kind: LotKind, site: str | None) -> None:
        self._core = core
        self._wake = wake
        self._kind = kind
        self._site = site

    async def stamp(self, *, day: date | None = None, wait_s: float = 0.0) -> str:
        """As :meth:`rindline.outbox.Codes.stamp`."""
        await self.wait(day=day, timeout_s=wait_s)
        code = await asyncio.to_thread(self._core.blocks.stamp, self._kind, self._site, day)
        self._wake.set()
        return code

    async def left(self, *, day: date | None = None) -> int:
        """As :meth:`rindline.outbox.Codes.left`."""
        wanted = self._kind, self._site, day
        return await asyncio.to_thread(self._core.blocks.left_of, *wanted)

    async def wait(self, *, day: date | None = None, timeout_s: float = 30.0) -> int:
        """As :meth:`rindline.outbox.Codes.wait`."""
        ends_at = self._core.clock.monotonic_s() + timeout_s
        while not (left := await self.left(day=day)):
            if self._core.clock.monotonic_s() >= ends_at:
                break
            await self._core.clock.sleep_async(_CODES_S)
        return left

    async def spoil(self, code: str) -> None:
        """As :meth:`rindline.outbox.Codes.spoil`."""
        await asyncio.to_thread(self._core.blocks.spoil, code)
        self._wake.set()
