"""Sending what a file holds, for ordinary (blocking) code: here and now, or by a thread."""

import threading
from collections.abc import Callable

from rindline._clock import Clock
from rindline.client import Client
from rindline.errors import InvalidInputError, OutboxError
from rindline.outbox._delivery import Send, Steps
from rindline.outbox._lock import DrainLock

__all__ = ["Sending"]

# How often a process looks whether the one that sends has gone.
_LOCK_S = 2.0


class Sending:
    """Drives the steps of one file; ``steps`` begins to drain, ``queued`` counts what waits."""

    def __init__(
        self,
        client: Client | None,
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
        self._changed = threading.Condition()
        self._failed = False
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self.wake = threading.Event()
        """Set when there is something new to send."""

    def start(self) -> None:
        """Send by a thread, if there is a client."""
        if self._client is not None:
            # A daemon: what is not sent at the end of the process is on disk.
            self._thread = threading.Thread(
                target=self._run, args=(self._client,), name="outbox", daemon=True
            )
            self._thread.start()

    def stop(self, wait_s: float) -> None:
        """End the thread: once all is sent, at a failure, or when the time is over."""
        if self._thread is None:
            return
        ends_at = self._clock.monotonic_s() + wait_s
        with self._changed:
            while self._queued() and not self._failed:
                left_s = ends_at - self._clock.monotonic_s()
                if left_s <= 0 or not self._changed.wait(left_s):
                    break
        self._stop.set()
        self.wake.set()
        self._thread.join()
        self._thread = None

    def drain(self, deadline_s: float) -> None:
        """Send here and now, until nothing is queued or the time is over; see the outboxes."""
        if self._client is None:
            raise InvalidInputError("This outbox has no client: nothing can be sent.")
        if self._lock.acquire():
            try:
                self._send_until(self._client, self._clock.monotonic_s() + deadline_s)
            finally:
                self._lock.release()

    def _send_until(self, client: Client, ends_at: float) -> None:
        steps = self._steps()
        step = next(steps)
        while (left_s := ends_at - self._clock.monotonic_s()) > 0:
            if isinstance(step, Send):
                attempt = client._attempt(step.call, min(step.timeout_s, left_s))  # noqa: SLF001 - ours
                step = steps.send(attempt)
            elif step.idle or step.seconds >= left_s:
                return
            else:
                self._clock.sleep(step.seconds)
                step = next(steps)

    def _run(self, client: Client) -> None:
        while not self._stop.is_set():
            try:
                if self._lock.acquire():
                    try:
                        self._send(client)
                    finally:
                        self._lock.release()
            except OutboxError:
                # The disk is full, say: what was sent will be sent again, and known there.
                self._report(failed=True)
            self._stop.wait(_LOCK_S)

    def _send(self, client: Client) -> None:
        steps = self._steps()
        step = next(steps)
        while not self._stop.is_set():
            if isinstance(step, Send):
                attempt = client._attempt(step.call, step.timeout_s)  # noqa: SLF001 - ours
                step = steps.send(attempt)
                continue
            self._report(failed=not step.idle)
            if step.idle:
                self.wake.wait(step.seconds)
                self.wake.clear()
            else:
                self._stop.wait(step.seconds)
            step = next(steps)

    def _report(self, *, failed: bool) -> None:
        with self._changed:
            self._failed = failed
            self._changed.notify_all()
