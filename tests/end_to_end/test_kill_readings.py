"""`kill -9` amid readings: what was acknowledged is kept, and what was due is rolled up later."""

import threading
import time
from collections.abc import Callable
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from rindline import Client
from rindline.transport import HttpTransport
from rindline_schema.answers import Reading
from rindline_schema.events import Declare
from rindline_schema.registers import Sensor
from rindline_server.calc.air import HOUR_US, AirRule
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.clock import now
from rindline_server.ledger.times import to_us
from rindline_server.service import Service
from rindline_server.service.air.hours import roll_hours
from rindline_server.store import Store
from tests.end_to_end.killing import WAIT_S, MortalServer
from tests.http.serving import add_key
from tests.service.callers import recorded
from tests.service.dairy import Dairy

_BEGIN = datetime.fromisoformat("2026-03-10T00:00:00Z")
_ROUNDS = 4
_READINGS = 10_000
_SENSORS = ("T-1", "T-2")


def _batch(number: int) -> list[Reading]:
    each = _READINGS // len(_SENSORS)
    return [
        Reading(
            sensor=sensor,
            at=_BEGIN + timedelta(minutes=number * each + minute),
            temperature_c=11 + minute % 17 / 10,
            humidity_pct=93 - minute % 13 / 10,
        )
        for minute in range(each)
        for sensor in _SENSORS
    ]


def _until(true: Callable[[], bool]) -> None:
    deadline, pause = time.monotonic() + WAIT_S, threading.Event()
    while not true():
        assert time.monotonic() < deadline, "what was waited for did not happen"
        pause.wait(0.02)


@pytest.mark.durable
def test_kills_lose_no_reading_and_no_hour_that_is_due(database_url: str, tmp_path: Path) -> None:
    """The server dies as soon as it has acknowledged a batch, with the hours of it still due: that
    is checked, or the run has shown nothing. In the end every reading is there, and after a last
    start all is rolled up as the readings say, though nobody tells it anything more."""
    with closing(Store(database_url)) as store:
        service, dairy = Service(store, now, ScaleTolerance()), Dairy()
        service.start()
        sensors = [Sensor(code=code, name="Air", room="CAVE") for code in _SENSORS]
        declared = [dairy.event(Declare, entry=entry) for entry in sensors]
        recorded(service, [*dairy.declared(), *declared])
        service.stop(WAIT_S)
        key = add_key(database_url, "manager")
        amid = 0
        with MortalServer(database_url, tmp_path) as server:
            for number in range(_ROUNDS):
                assert server.address is not None
                with Client(key=key, transport=HttpTransport(server.address)) as client:
                    answer = client.tell_readings(_batch(number))
                server.kill()
                assert (answer.recorded, answer.refused) == (_READINGS, [])
                with store.reading() as snap:
                    amid += snap.due_left() > 0
                server.start()
            assert amid > 0, "all was rolled up before each kill: the run is void"
            _until(lambda: _left(store) == 0)
        first, behind = to_us(_BEGIN) // HOUR_US, to_us(_BEGIN) // HOUR_US + 24 * 30
        with store.reading() as snap:
            for sensor in _SENSORS:
                shown = snap.readings(sensor, 0, 2**62)
                assert len(shown) == _ROUNDS * _READINGS // len(_SENSORS)
            kept = snap.air_hours("CAVE", (0, 10**6))
            assert kept == roll_hours(snap, "CAVE", first, behind, AirRule())
            assert len(kept) > 300
        assert service.rebuild(lambda _done, _of: None, check=True).differences == []


def _left(store: Store) -> int:
    with store.reading() as snap:
        return snap.due_left()
