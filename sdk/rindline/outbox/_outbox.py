"""The outbox for ordinary (blocking) code."""

import threading
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Self
from uuid import UUID

from rindline._clock import Clock
from rindline._retries import RetryPolicy
from rindline._telling import Telling
from rindline.client import Client
from rindline.outbox._core import Core
from rindline.outbox._entries import EntryState, OutboxEntry, OutboxStatus, Queued
from rindline.outbox._sending import Sending
from rindline_schema.events import Correct, Event, Fact
from rindline_schema.registers import LotKind

__all__ = ["Codes", "Outbox"]

_CODES_S = 0.1


class Outbox(Telling[Queued, Queued]):
    """Tells events by way of a file: on disk before ``tell`` returns, sent as the network allows.

    ``path`` is the file, on a disk of this machine; it is made if it is not there. ``client``
    says where to; without one, events are kept for another process to send. A thread sends
    them in the order of their numbers, in one process a file at a time; ``drains=False`` leaves
    that to :meth:`drain`. May be shared by threads. Close it, or use ``with``.

    ``policy`` sets the waits between attempts; how often and how long is tried has no limit.

    Every telling method raises :class:`rindline.InvalidInputError` for what cannot be right,
    :class:`rindline.DiskFullError` if there is no room and :class:`rindline.OutboxError` if the
    file fails otherwise: print no label then, the event is not told.
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
        self._core = Core(path, clock=clock, policy=policy)
        self._clock = self._core.clock
        core = self._core
        self._sending = Sending(
            client, core.lock, core.clock, core.steps, lambda: core.queue.counts()[0]
        )
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

    # --- telling (a method for each kind of event is in Telling) ------------------------------

    def tell(self, event: Event) -> Queued:
        """Put an event on disk, to be sent."""
        return self.tell_many([event])[0]

    def tell_many(self, events: Iterable[Event]) -> list[Queued]:
        """Put events on disk with one sync, all or none."""
        kept = self._core.queue.keep(list(events))
        self._sending.wake.set()
        return kept

    def _tell_fact(self, event: Fact) -> Queued:
        return self.tell(event)

    def _tell_correction(self, event: Correct) -> Queued:
        return self.tell(event)

    # --- looking and mending ------------------------------------------------------------------

    def status(self) -> OutboxStatus:
        """Give how the outbox is doing."""
        return self._core.status()

    def entries(self, *states: EntryState) -> list[OutboxEntry]:
        """Give the events in some states, by number: those queued or set aside if none is named.

        Of the recorded ones the last 1,000 are kept.
        """
        return self._core.queue.entries(*(states or ("queued", "set_aside")))

    def entry(self, id: UUID) -> OutboxEntry:  # noqa: A002 - the field's name in the contract
        """Give one event, with the server's answer if there is one."""
        return self._core.queue.entry(id)

    def mend(self, id: UUID, event: Event) -> Queued:  # noqa: A002 - as above
        """Queue ``event``, under a new id, in the stead of the one that is set aside."""
        queued = self._core.queue.mend(id, event)
        self._sending.wake.set()
        return queued

    def resend(self, id: UUID | None = None) -> int:  # noqa: A002 - as above
        """Queue again, unchanged, one event that is set aside, or all; gives how many."""
        count = self._core.queue.resend(id)
        self._sending.wake.set()
        return count

    # --- lot codes ----------------------------------------------------------------------------

    def codes(
        self, kind: LotKind, *, site: str | None = None, reserve: int = 200, days: int = 3
    ) -> "Codes":
        """Give a stamp for lot codes of a kind, which works without a network.

        ``reserve`` codes are kept ready for each of the next ``days`` days, today's included, and
        more are reserved when half of them are stamped. ``site`` may be left out if the key
        belongs to one.
        """
        self._core.blocks.want(kind, site, reserve, days)
        self._sending.wake.set()
        return Codes(self._core, self._sending.wake, kind, site)

    # --- sending ------------------------------------------------------------------------------

    def drain(self, *, deadline_s: float = 60.0) -> OutboxStatus:
        """Send here and now, until nothing is queued or the time is over; gives the status.

        Does nothing if another thread or process is sending.
        """
        self._sending.drain(deadline_s)
        return self.status()


class Codes:
    """A stamp for lot codes of one kind; each code is marked stamped on disk before it is given.

    First stamp, then tell the event that makes the lot, then print: a label whose event is on
    disk is heard of in the end, whatever happens to the machine.
    """

    def __init__(self, core: Core, wake: threading.Event, kind: LotKind, site: str | None) -> None:
        self._core = core
        self._wake = wake
        self._kind = kind
        self._site = site

    def stamp(self, *, day: date | None = None, wait_s: float = 0.0) -> str:
        """Give the next code, of today or of ``day``, which nobody else is ever given.

        Waits up to ``wait_s`` for codes to be reserved; then raises
        :class:`rindline.NoCodesError`.
        """
        self.wait(day=day, timeout_s=wait_s)
        code = self._core.blocks.stamp(self._kind, self._site, day)
        self._wake.set()
        return code

    def left(self, *, day: date | None = None) -> int:
        """Give how many codes of today, or of ``day``, are left without a network."""
        return self._core.blocks.left_of(self._kind, self._site, day)

    def wait(self, *, day: date | None = None, timeout_s: float = 30.0) -> int:
        """Wait until there are codes, or the time is over; gives how many there are."""
        ends_at = self._core.clock.monotonic_s() + timeout_s
        while not (left := self.left(day=day)):
            if self._core.clock.monotonic_s() >= ends_at:
                break
            self._core.clock.sleep(_CODES_S)
        return left

    def spoil(self, code: str) -> None:
        """Say that the label of a stamped code was thrown away: no lot bears it."""
        self._core.blocks.spoil(code)
        self._wake.set()
