"""The outbox for asyncio: disk and clock as in the other, the sending in a task."""

import asyncio
from collections.abc import Coroutine, Iterable
from contextlib import suppress
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeAlias
from uuid import UUID

from rindline._clock import Clock
from rindline._retries import RetryPolicy
from rindline._telling import Telling
from rindline.async_client import AsyncClient
from rindline.errors import InvalidInputError, OutboxError
from rindline.outbox._core import Core
from rindline.outbox._delivery import Send
from rindline.outbox._entries import EntryState, OutboxEntry, OutboxStatus, Queued
from rindline_schema.events import Correct, Event, Fact
from rindline_schema.registers import LotKind

__all__ = ["AsyncCodes", "AsyncOutbox"]

_LOCK_S = 2.0
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
        self._client = client
        self._drains = drains
        self._wake = asyncio.Event()
        self._changed = asyncio.Condition()
        self._failed = False
        self._task: asyncio.Task[None] | None = None

    async def __aenter__(self) -> Self:
        if self._client is not None and self._drains:
            self._task = asyncio.create_task(self._run(self._client), name="outbox")
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
        if self._task is not None:
            with suppress(TimeoutError):
                async with asyncio.timeout(wait_s):
                    await self._sent()
            self._task.cancel()
            await asyncio.wait([self._task])
            self._task = None
        await asyncio.to_thread(self._core.file.close)

    async def _sent(self) -> None:
        async with self._changed:
            while (await asyncio.to_thread(self._core.queue.counts))[0] and not self._failed:
                await self._changed.wait()

    # --- telling (a method for each kind of event is in Telling) ------------------------------

    async def tell(self, event: Event) -> Queued:
        """As :meth:`rindline.Outbox.tell`."""
        return (await self.tell_many([event]))[0]

    async def tell_many(self, events: Iterable[Event]) -> list[Queued]:
        """As :meth:`rindline.Outbox.tell_many`."""
        kept = await asyncio.to_thread(self._core.queue.keep, list(events))
        self._wake.set()
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
        self._wake.set()
        return queued

    async def resend(self, id: UUID | None = None) -> int:  # noqa: A002 - as above
        """As :meth:`rindline.Outbox.resend`."""
        count = await asyncio.to_thread(self._core.queue.resend, id)
        self._wake.set()
        return count

    # --- lot codes ----------------------------------------------------------------------------

    async def codes(
        self, kind: LotKind, *, site: str | None = None, reserve: int = 200, days: int = 3
    ) -> "AsyncCodes":
        """As :meth:`rindline.Outbox.codes`."""
        await asyncio.to_thread(self._core.blocks.want, kind, site, reserve, days)
        self._wake.set()
        return AsyncCodes(self._core, self._wake, kind, site)

    # --- sending ------------------------------------------------------------------------------

    async def drain(self, *, deadline_s: float = 60.0) -> OutboxStatus:
        """As :meth:`rindline.Outbox.drain`."""
        if self._client is None:
            raise InvalidInputError("This outbox has no client: nothing can be sent.")
        if self._core.lock.acquire():
            try:
                await self._send_until(self._client, self._clock.monotonic_s() + deadline_s)
            finally:
                self._core.lock.release()
        return await self.status()

    async def _send_until(self, client: AsyncClient, ends_at: float) -> None:
        steps = self._core.steps()
        step = await asyncio.to_thread(next, steps)
        while (left_s := ends_at - self._clock.monotonic_s()) > 0:
            if isinstance(step, Send):
                attempt = await client._attempt(step.call, min(step.timeout_s, left_s))  # noqa: SLF001 - ours
                step = await asyncio.to_thread(steps.send, attempt)
            elif step.idle or step.seconds >= left_s:
                return
            else:
                await self._clock.sleep_async(step.seconds)
                step = await asyncio.to_thread(next, steps)

    async def _run(self, client: AsyncClient) -> None:
        while True:
            try:
                if self._core.lock.acquire():
                    try:
                        await self._send(client)
                    finally:
                        self._core.lock.release()
            except OutboxError:
                # The disk is full, say: what was sent will be sent again, and known there.
                await self._report(failed=True)
            await asyncio.sleep(_LOCK_S)

    async def _send(self, client: AsyncClient) -> None:
        steps = self._core.steps()
        step = await asyncio.to_thread(next, steps)
        while True:
            if isinstance(step, Send):
                attempt = await client._attempt(step.call, step.timeout_s)  # noqa: SLF001 - ours
                step = await asyncio.to_thread(steps.send, attempt)
                continue
            await self._report(failed=not step.idle)
            if step.idle:
                # Not wait_for: in Python 3.11 it loses a cancellation that comes with the event.
                with suppress(TimeoutError):
                    async with asyncio.timeout(step.seconds):
                        await self._wake.wait()
                self._wake.clear()
            else:
                await asyncio.sleep(step.seconds)
            step = await asyncio.to_thread(next, steps)

    async def _report(self, *, failed: bool) -> None:
        async with self._changed:
            self._failed = failed
            self._changed.notify_all()


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
