"""Two who tell at the same time, each in a process of its own: a logger, and a station's hand."""

import itertools
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from functools import partial
from multiprocessing.queues import Queue
from multiprocessing.synchronize import Event as Flag
from pathlib import Path
from uuid import UUID

from rindline import Client, RetryPolicy
from rindline.errors import DeadlineError, TransportError, UnavailableError
from rindline.outbox import ReadingOutbox
from rindline_schema.answers import Reading
from rindline_schema.events import Declare, Event, Tend
from rindline_schema.registers import Sensor
from tests.service.dairy import Dairy
from tests.stations.outbox_parts import PATIENT

__all__ = ["BY_HAND", "LOGGED", "Acknowledged", "log_air", "logged_readings", "tell_by_hand"]

LOGGED = ("S-CAVE", "S-DAIRY")
"""The sensors whose readings go through the outbox."""

BY_HAND = "S-HAND"
"""The sensor whose readings are told directly."""

Acknowledged = UUID | Reading
"""An event's id, or a reading, that the server said it has."""

_FIRST = datetime.fromisoformat("2026-03-02T06:00:00+00:00")
_MINUTES = 6 * 24 * 60
_HEAP = 240
_HEAP_S = 0.15
_PAUSE_S = 0.02
_BY_HAND_AT_ONCE = 50
_GIVEN_UP_S = 120.0
_ONCE = RetryPolicy(max_attempts=1, attempt_timeout_s=20.0)


def logged_readings() -> list[Reading]:
    """Give six days of both logged sensors, minute by minute."""
    return [
        Reading(
            sensor=sensor,
            at=_FIRST + timedelta(minutes=minute),
            temperature_c=12 + (minute * 7 + number) % 23 / 10,
            humidity_pct=88 + (minute * 5 + number) % 13 / 2,
        )
        for minute in range(_MINUTES)
        for number, sensor in enumerate(LOGGED)
    ]


def log_air(path: Path, address: str, key: str) -> None:
    """Read the logged sensors into an outbox, heap by heap; end when all of them are sent."""
    readings = logged_readings()
    with Client(address, key) as client, ReadingOutbox(path, client, policy=PATIENT) as outbox:
        for start in range(0, len(readings), _HEAP):
            outbox.many(readings[start : start + _HEAP])
            time.sleep(_HEAP_S)
        while outbox.status().queued:
            time.sleep(_PAUSE_S)
        if outbox.status().set_aside:
            raise RuntimeError(str(outbox.set_aside()[0]))


def tell_by_hand(
    address: str, key: str, wheel: str, said: "Queue[Acknowledged]", enough: Flag
) -> None:
    """Tell an event and some readings by turns until it is enough, each until it is answered."""
    dairy = Dairy(7)
    hours = itertools.count(1)
    readings = _by_hand()
    with Client(address, key, retries=_ONCE) as client:
        while not enough.is_set():
            event = _event(dairy, wheel, next(hours))
            _until_answered(partial(client.tell, event))
            said.put(event.id)
            some = list(itertools.islice(readings, _BY_HAND_AT_ONCE))
            _until_answered(partial(_tell, client, some))
            for reading in some:
                said.put(reading)
            time.sleep(_PAUSE_S)


def _event(dairy: Dairy, wheel: str, hour: int) -> Event:
    """Give a calibration or a move of a sensor, or a turning; each makes hours due or none."""
    at = _FIRST + timedelta(hours=hour)
    if hour % 3 == 0:
        return dairy.event(Tend, at=at, task="turn", lots=[wheel])
    sensor = LOGGED[hour % 2]
    room = "CAVE" if hour % 4 < 2 else "DAIRY"
    entry = Sensor(code=sensor, name=sensor, room=room, offset_c=hour % 5 / 10)
    return dairy.event(Declare, at=at, entry=entry)


def _by_hand() -> Iterator[Reading]:
    for minute in itertools.count():
        yield Reading(
            sensor=BY_HAND, at=_FIRST + timedelta(minutes=minute), temperature_c=11 + minute % 9 / 4
        )


def _tell(client: Client, readings: Sequence[Reading]) -> None:
    answer = client.tell_readings(readings)
    if answer.refused:
        raise RuntimeError(str(answer.refused))


def _until_answered(tell: Callable[[], object]) -> None:
    deadline = time.monotonic() + _GIVEN_UP_S
    while time.monotonic() < deadline:
        try:
            tell()
        except (TransportError, DeadlineError, UnavailableError):
            time.sleep(_PAUSE_S)
        else:
            return
    raise TimeoutError("nobody answers")
