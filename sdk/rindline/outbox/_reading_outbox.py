"""The outbox of a logger: readings on its disk until the server has them."""

from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from rindline._clock import Clock
from rindline._retries import RetryPolicy
from rindline.client import Client
from rindline.outbox._reading_core import ReadingCore
from rindline.outbox._reading_entries import ReadingOutboxStatus, ReadingSetAside
from rindline.outbox._sending import Sending
from rindline_schema.answers import Reading

__all__ = ["ReadingOutbox"]


class ReadingOutbox:
    """Tells readings by way of a file: on disk before ``read`` returns, sent as the network allows.

    ``path`` is the file, on a disk of this machine; it is made if it is not there. ``client``
    says where to; without one, readings are kept for another process to send. A thread sends
    them in batches, those that wait longest first, in one process a file at a time;
    ``drains=False`` leaves that to :meth:`send`. May be shared by threads. Close it, or use
    ``with``.

    A reading is recorded once however often it is told: sensor and time are its identity. So the
    machine's clock must be right; an outbox cannot know that it was not.

    Whatever tells raises :class:`rindline.InvalidInputError` for what no sensor can have shown,
    :class:`rindline.DiskFullError` if there is no room and :class:`rindline.OutboxError` if the
    file fails otherwise: that reading is not kept then.
    """

    def __init__(
        self,
        path: str | Path,
        client: Client | None = None,
        *,
        drains: bool = True,
        policy: RetryPolicy | None = None,
        clock: Clock | None = None,
    ) -> None:
        self._core = core = ReadingCore(path, clock=clock, policy=policy)
        self._sending = Sending(client, core.lock, core.clock, core.steps, core.queued)
        if drains:
            self._sending.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def close(self, *, wait_s: float = 5.0) -> None:
        """Stop sending and close the file; what is in it is sent by the next who opens it.

        Waits up to ``wait_s`` for the queue to be sent, as long as sending succeeds, and for the
        attempt on its way. The client stays open.
        """
        self._sending.stop(wait_s)
        self._core.file.close()

    # --- telling ------------------------------------------------------------------------------

    def read(
        self,
        sensor: str,
        *,
        temperature_c: float | None = None,
        humidity_pct: float | None = None,
        at: datetime | None = None,
    ) -> Reading:
        """Put on disk what a sensor showed, now or ``at`` a time with its offset; gives it.

        As the sensor showed it: offsets are declared with the sensor, and added by the server.
        """
        reading = Reading(
            sensor=sensor,
            at=at or self._core.clock.now(),
            temperature_c=temperature_c,
            humidity_pct=humidity_pct,
        )
        self.many([reading])
        return reading

    def many(self, readings: Iterable[Reading]) -> int:
        """Put readings on disk with one sync, all or none; gives how many. Thousands a second."""
        kept = list(readings)
        self._core.queue.keep(kept)
        self._sending.wake.set()
        return len(kept)

    # --- looking and mending ------------------------------------------------------------------

    def status(self) -> ReadingOutboxStatus:
        """Give how the outbox is doing."""
        return self._core.status()

    def set_aside(self) -> list[ReadingSetAside]:
        """Give the readings that were refused, each with its problem."""
        return self._core.queue.set_aside()

    def resend(self) -> int:
        """Queue what is set aside again, once the sensor is declared, say; gives how many."""
        count = self._core.queue.resend()
        self._sending.wake.set()
        return count

    def drop(self) -> int:
        """Forget what is set aside, for good; gives how many."""
        return self._core.queue.drop()

    # --- sending ------------------------------------------------------------------------------

    def send(self, *, deadline_s: float = 60.0) -> ReadingOutboxStatus:
        """Send here and now, until nothing is queued or the time is over; gives the status.

        Does nothing if another thread or process is sending.
        """
        self._sending.drain(deadline_s)
        return self.status()
