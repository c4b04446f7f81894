"""Sending what a file holds, for asyncio: here and now, or by a task; the file in threads."""

import asyncio
from collections.abc import Callable
from contextlib import suppress

from rindline._clock import Clock
from rindline.async_client import AsyncClient
from rindline.errors import InvalidInputError, OutboxError
from rindline.outbox._delivery import Send, Steps
from rindline.outbox._lock import DrainLock

__all__ = ["AsyncSending"]

_LOCK_S = 2.0


class AsyncSending:
    """As :class:`rindline.outbox._sending.Sending`."""

    def __init__(
        self,
        client: AsyncClient | None,
        lock: DrainLock,
        clock: Clock,
        steps: Callable[[], Steps],
        queued: Callable[[], int],
    ) -> None:
        self._client = client
        self._lock = lock
        self._clock = clock
        self._steps = steps
        self._queued = queued
        self._changed = asyncio.Condition()
        self._failed = False
        self._task: asyncio.Task[None] | None = None
        self.wake = asyncio.Event()
        """Set when there is something new to send."""

    def start(self) -> None:
        """Send by a task, if there is a client."""
        if self._client is not None:
            self._task = asyncio.create_task(self._run(self._client), name="outbox")

    async def stop(self, wait_s: float) -> None:
        """End the task: once all is sent, at a failure, or when the time is over.

        An attempt on its way is given up.
        """
        if self._task is None:
            return
        with suppress(TimeoutError):
            async with asyncio.timeout(wait_s):
                await self._sent()
        self._task.cancel()
        await asyncio.wait([self._task])
        self._task = None

    async def drain(self, deadline_s: float) -> None:
        """Send here and now, until nothing is queued or the time is over; see the outboxes."""
        if self._client is None:
            raise InvalidInputError("This outbox has no client: nothing can be sent.")
        if self._lock.acquire():
            try:
                await self._send_until(self._client, self._clock.monotonic_s() + deadline_s)
            finally:
                self._lock.release()

    async def _sent(self) -> None:
        async with self._changed:
            while await asyncio.to_thread(self._queued) and not self._failed:
                await self._changed.wait()

    async def _send_until(self, client: AsyncClient, ends_at: float) -> None:
        steps = self._steps()
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
                if self._lock.acquire():
                    try:
                        await self._send(client)
                    finally:
                        self._lock.release()
            except OutboxError:
                # The disk is full, say: what was sent will be sent again, and known there.
                await self._report(failed=True)
            await asyncio.sleep(_LOCK_S)

    async def _send(self, client: AsyncClient) -> None:
        steps = self._steps()
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
                        await self.wake.wait()
                self.wake.clear()
            else:
                await asyncio.sleep(step.seconds)
            step = await asyncio.to_thread(next, steps)

    async def _report(self, *, failed: bool) -> None:
        async with self._changed:
            self._failed = failed
            self._changed.notify_all()
