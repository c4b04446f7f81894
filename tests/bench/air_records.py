"""Two records of the air on either database: the larger has four times the rooms and the time.

Both hold the same wheel, whose rooms were measured every minute while it lived. The larger has
twelve more rooms, and three times as many weeks before, all measured every five minutes.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import NamedTuple

from sqlalchemy.engine import URL

from rindline_schema.answers import Reading, Refused
from rindline_schema.events import Event
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.clock import now
from rindline_server.service import Caller, Service
from rindline_server.store import Store
from tests.bench.air_story import END, ROOMS_OF_WHEEL, AirStory, readings
from tests.bench.bare_air import wait_until_rolled_up
from tests.bench.records import Maker

__all__ = ["BATCH", "MANAGER", "AirRecord", "air_service", "tell", "two_air_records"]

BATCH = 10_000
"""Readings told at one go: as many as a request may carry."""

MANAGER = Caller(key="rindline_bench", name="bench", role="manager")

_TIMES_LARGER = 4
_STOP_S = 60.0
_TOLD_S = 300.0

Say = Callable[[str], None]


class AirRecord(NamedTuple):
    """A filled database: how many readings it holds, a key, the wheel and where it lay."""

    url: URL
    readings: int
    key: str
    wheel: str
    stays: list[tuple[str, datetime, datetime]]


def two_air_records(maker: Maker, weeks: int, say: Say) -> tuple[AirRecord, AirRecord]:
    """Fill the small record and the large for a wheel of so many weeks."""
    return (
        _filled(maker, weeks, ROOMS_OF_WHEEL, 0, say),
        _filled(maker, weeks, ROOMS_OF_WHEEL * _TIMES_LARGER, (_TIMES_LARGER - 1) * weeks, say),
    )


def _filled(maker: Maker, weeks: int, rooms: int, weeks_before: int, say: Say) -> AirRecord:
    url = maker.fresh()
    story = AirStory(rooms, weeks, weeks_before)
    told = 0
    # As in life, what is declared is told before any reading is taken.
    with air_service(url, lambda: story.begun) as service:
        _tell_events(service, story.declared())
    with air_service(url) as service:
        _tell_events(service, story.events())
        key = service.add_key("bench", "manager")
        for batch in _batches(_air(weeks, rooms, weeks_before)):
            tell(service, batch)
            told += len(batch)
            if told % (50 * BATCH) == 0:
                say(f"{told:,} readings")
        wait_until_rolled_up(url)
    maker.settle(url)
    return AirRecord(url, told, key, story.wheel, story.stays)


def _tell_events(service: Service, events: Sequence[Event]) -> None:
    for outcome in service.tell(MANAGER, events).result(_TOLD_S):
        if isinstance(outcome, Refused) or outcome.warnings:
            raise RuntimeError(f"the invented record does not hold together: {outcome}")


def _air(weeks: int, rooms: int, weeks_before: int) -> Iterator[Reading]:
    hooped = END - timedelta(weeks=weeks)
    begun = hooped - timedelta(weeks=weeks_before)
    own, others = range(ROOMS_OF_WHEEL), range(ROOMS_OF_WHEEL, rooms)
    if weeks_before:
        yield from readings(range(rooms), begun, hooped, 5)
    if others:
        yield from readings(others, hooped, END, 5)
    yield from readings(own, hooped, END, 1)


def _batches(air: Iterator[Reading]) -> Iterator[list[Reading]]:
    batch: list[Reading] = []
    for reading in air:
        batch.append(reading)
        if len(batch) == BATCH:
            yield batch
            batch = []
    if batch:
        yield batch


def tell(service: Service, batch: list[Reading]) -> None:
    """Tell a batch, all of which must be new."""
    answer = service.tell_readings(MANAGER, batch)
    if answer.recorded != len(batch):
        raise RuntimeError(f"not all were recorded: {answer}")


@contextmanager
def air_service(url: URL, clock: Callable[[], datetime] = now) -> Iterator[Service]:
    """Hold a running service on a database."""
    store = Store(url.render_as_string(hide_password=False))
    service = Service(store, clock, ScaleTolerance())
    service.start()
    try:
        yield service
    finally:
        service.stop(_STOP_S)
        store.close()
