"""`kill -9` amid readings: what a logger was promised is kept, and the hours say what it showed."""

import contextlib
import multiprocessing
import queue
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
import sqlalchemy as sa

from rindline_schema.answers import Reading
from rindline_schema.events import Declare
from rindline_schema.registers import Sensor
from rindline_server.app import open_service
from rindline_server.ledger.times import to_us
from rindline_server.settings import Settings
from rindline_server.store.database import normal_url
from tests.end_to_end.air_tellers import (
    BY_HAND,
    LOGGED,
    Acknowledged,
    log_air,
    logged_readings,
    tell_by_hand,
)
from tests.end_to_end.killing import WAIT_S, MortalServer
from tests.http.serving import add_key
from tests.service.callers import recorded
from tests.service.dairy import Dairy
from tests.stations.outbox_proxy import HostileProxy, hostile_proxy

_KILLS = 4
_READINGS_BETWEEN_KILLS = 1_500
_POLL_S = 0.02
_SEED = 20260411


class _Record:
    """What is in the database, looked at from outside."""

    def __init__(self, url: str) -> None:
        self._engine = sa.create_engine(normal_url(url))

    def close(self) -> None:
        self._engine.dispose()

    def number(self, statement: str) -> int:
        """Give the one number a statement asks for."""
        with self._engine.connect() as connection:
            return int(connection.execute(sa.text(statement)).scalar_one())

    def logged(self) -> int:
        """How many readings of the logger are there."""
        return self.number(f"SELECT COUNT(*) FROM readings WHERE sensor <> '{BY_HAND}'")

    def due(self) -> int:
        """How many spans of hours are not rolled up yet."""
        return self.number("SELECT COUNT(*) FROM air_due")

    def readings(self) -> set[tuple[str, int, int | None, int | None]]:
        """Give all readings as they are kept."""
        statement = "SELECT sensor, at_us, c_milli, humidity_milli FROM readings"
        with self._engine.connect() as connection:
            return {tuple(row) for row in connection.execute(sa.text(statement))}

    def events(self) -> set[str]:
        """Give the ids of all events, without hyphens."""
        with self._engine.connect() as connection:
            rows = connection.execute(sa.text("SELECT id FROM ledger"))
            return {bytes(row[0]).hex() for row in rows}


def _kept(reading: Reading) -> tuple[str, int, int | None, int | None]:
    """Give a reading as it is kept: thousandths."""
    c, pct = (
        None if value is None else round(value * 1000)
        for value in (reading.temperature_c, reading.humidity_pct)
    )
    return reading.sensor, to_us(reading.at), c, pct


def _wait_until(reached: Callable[[], bool], processes: list[Any]) -> None:
    deadline = time.monotonic() + WAIT_S
    while not reached():
        assert time.monotonic() < deadline, "it goes on no more"
        assert all(process.exitcode in (None, 0) for process in processes)
        time.sleep(_POLL_S)


def _has(record: _Record, logged: int) -> bool:
    return record.logged() >= logged


def _opened(database_url: str) -> str:
    """Declare the dairy and its sensors, and hoop a wheel; gives the wheel."""
    dairy = Dairy()
    sensors = [
        dairy.event(Declare, entry=Sensor(code=code, name=code, room=room))
        for code, room in zip((*LOGGED, BY_HAND), ("CAVE", "DAIRY", "CAVE"), strict=True)
    ]
    events, wheels = dairy.wheels(1)
    with open_service(Settings(database_url=database_url)) as service:
        service.start()
        recorded(service, [*dairy.declared(), *sensors, *events])
        service.stop(WAIT_S)
    return wheels[0]


def _at(server: MortalServer) -> tuple[str, int]:
    assert server.address is not None
    parts = urlsplit(server.address)
    return parts.hostname or "", parts.port or 0


def _address(proxy: HostileProxy) -> str:
    return "http://{}:{}".format(*proxy.address)


@contextmanager
def _ended(processes: list[Any]) -> Iterator[None]:
    """Start processes, and leave none behind."""
    for process in processes:
        process.start()
    try:
        yield
    finally:
        for process in processes:
            process.kill()
            process.join()


def _drained(said: Any) -> list[Acknowledged]:
    found: list[Acknowledged] = []
    with contextlib.suppress(queue.Empty):
        while True:
            found.append(said.get(timeout=0.2))
    return found


def _missing(acknowledged: list[Acknowledged], record: _Record) -> list[Acknowledged]:
    readings, events = record.readings(), record.events()
    return [
        one
        for one in acknowledged
        if (_kept(one) not in readings if isinstance(one, Reading) else one.hex not in events)
    ]


@pytest.mark.slow
@pytest.mark.durable
@pytest.mark.timeout(600)
def test_kills_amid_readings_lose_nothing_and_leave_no_hour_wrong(
    database_url: str, tmp_path: Path
) -> None:
    """A logger's outbox sends two sensors' readings through a network that spoils 30 % of the
    requests; another process tells calibrations and moves of those sensors and readings of a
    third; the server dies four times under their hands.

    Whatever was acknowledged before a death is on disk while the server is dead. In the end every
    reading of the logger is there once with its values, and the rolled-up hours are those that
    the readings give. A run in which no death left hours waiting has shown nothing: it fails.
    """
    wheel = _opened(database_url)
    key = add_key(database_url, "manager")
    context = multiprocessing.get_context("spawn")
    said, enough = context.Queue(), context.Event()
    acknowledged: list[Acknowledged] = []
    due_at_death: list[int] = []
    everything = logged_readings()
    with (
        closing(_Record(database_url)) as record,
        MortalServer(database_url, tmp_path) as server,
        hostile_proxy(_at(server), share=0.3, seed=_SEED) as bad,
        hostile_proxy(_at(server), share=0.0, seed=_SEED) as good,
    ):
        logger = context.Process(target=log_air, args=(tmp_path / "air.db", _address(bad), key))
        hand = context.Process(target=tell_by_hand, args=(_address(good), key, wheel, said, enough))
        with _ended([logger, hand]):
            for _ in range(_KILLS):
                enough_logged = record.logged() + _READINGS_BETWEEN_KILLS
                _wait_until(partial(_has, record, enough_logged), [logger, hand])
                server.kill()
                assert record.logged() < len(everything), "the logger was too quick: void"
                due_at_death.append(record.due())
                acknowledged += _drained(said)
                assert _missing(acknowledged, record) == []
                server.start()
                bad.server = good.server = _at(server)
            _wait_until(lambda: logger.exitcode is not None, [logger, hand])
            enough.set()
            acknowledged += _drained(said)
            _wait_until(lambda: hand.exitcode is not None, [logger, hand])
            acknowledged += _drained(said)
            _wait_until(lambda: record.due() == 0, [])
        assert bad.done.total() > bad.done["none"] > 0
        assert _missing(acknowledged, record) == []
        logged = [row for row in record.readings() if row[0] in LOGGED]
        assert len(logged) == len(everything)
        assert set(logged) == {_kept(reading) for reading in everything}
        assert record.number("SELECT COUNT(*) FROM air_hours") > 0
    assert len([one for one in acknowledged if isinstance(one, Reading)]) > _KILLS
    print(f"hours due at each death: {due_at_death}; {bad.done}; {len(acknowledged)} by hand")
    assert any(due_at_death), "no death left hours waiting: the run is void"
    with open_service(Settings(database_url=database_url)) as service:
        assert service.verify(lambda _done, _of: None).fault is None
        assert service.rebuild(lambda _done, _of: None, check=True).differences == []
