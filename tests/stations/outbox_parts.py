"""What the tests of the outbox share: events, answers, a patience that fits a test."""

from datetime import timedelta
from pathlib import Path
from typing import Any

from rindline import Client, EventMaker, RetryPolicy
from rindline._clock import Clock
from rindline._wire import Request, Response
from rindline.outbox import Outbox
from rindline.testing import FakeClock, FakeServer
from rindline_schema.events import Event
from tests.sdk.samples import WHEEL

__all__ = ["HURRIED", "PATIENT", "Answering", "outbox_of", "weighing", "weighings"]

HURRIED = RetryPolicy(base_s=0.01, cap_s=0.1, attempt_timeout_s=0.5)
"""Waits of milliseconds, so that a test of many faults takes seconds."""

PATIENT = RetryPolicy(base_s=0.01, cap_s=0.1, attempt_timeout_s=3.0)
"""The same, for a real server on a busy machine."""


def weighing(note: str, clock: Clock | None = None, **said: Any) -> Event:
    """Give a weighing of the sample wheel, told apart by its note."""
    return EventMaker(clock).weigh(lot=WHEEL, mass_g=4_000, note=note, **said)


def weighings(count: int, clock: Clock | None = None) -> list[Event]:
    """Give some weighings, noted "1", "2" and so on."""
    return [weighing(str(number), clock) for number in range(1, count + 1)]


def outbox_of(path: Path, server: FakeServer, clock: FakeClock, **said: Any) -> Outbox:
    """Give an outbox that sends only when told to, with a clock that never waits."""
    client = Client(transport=server, clock=clock)
    return Outbox(path, client, drains=False, clock=clock, **said)


class Answering(FakeServer):
    """A fake server of which a test may answer single requests itself.

    ``instead`` is asked first with each request; it gives the answer, or None to leave it alone.
    """

    def __init__(self, **said: Any) -> None:
        super().__init__(**said)
        self.instead: Any = lambda _request: None

    def send(self, request: Request, timeout_s: float) -> Response:
        """Answer by ``instead`` or as a fake server does."""
        own = self.instead(request)
        return own if isinstance(own, Response) else super().send(request, timeout_s)


HOURS_48 = timedelta(hours=48)
