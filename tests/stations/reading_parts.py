"""What the tests of the outbox of readings share."""

from datetime import timedelta
from pathlib import Path

from rindline import Client
from rindline.outbox import ReadingOutbox
from rindline.testing import FakeClock, FakeServer
from rindline_schema.answers import Reading
from tests.sdk.samples import AT

__all__ = ["minutes", "reading", "reading_outbox", "some_readings"]


def reading(minute: int, temperature_c: float | None = None, sensor: str = "S-1") -> Reading:
    """Give a reading at a minute; it shows a figure of its own unless one is said."""
    shown = minute % 400 / 10 if temperature_c is None else temperature_c
    return Reading(sensor=sensor, at=AT + timedelta(minutes=minute), temperature_c=shown)


def some_readings(count: int, first: int = 0) -> list[Reading]:
    """Give readings a minute apart."""
    return [reading(minute) for minute in range(first, first + count)]


def minutes(server: FakeServer) -> list[int]:
    """Give the minutes of the readings a fake server keeps, in the order it was told them."""
    return [int((at - AT) / timedelta(minutes=1)) for _, at in server._readings.kept]


def reading_outbox(
    path: Path, server: FakeServer, clock: FakeClock, **said: object
) -> ReadingOutbox:
    """Give an outbox that sends only when told to, with a clock that never waits."""
    client = Client(transport=server, clock=clock)
    return ReadingOutbox(path, client, drains=False, clock=clock, **said)  # type: ignore[arg-type]
