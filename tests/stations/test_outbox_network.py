"""The outbox against a network that does everything a network can do to a request."""

import json
import random
import threading
import time
from collections import Counter
from datetime import date
from pathlib import Path
from uuid import UUID

import pytest

from rindline import Client, EventMaker
from rindline._wire import Opened, Request, Response
from rindline.outbox import Outbox, _drain
from rindline.transport import HttpTransport
from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.events import Event
from rindline_schema.uuid7 import uuid7
from tests.stations.outbox_parts import PATIENT
from tests.stations.outbox_proxy import FAULTS, hostile_proxy
from tests.stations.outbox_server import StationServer, serving
from tests.stations.real_server import real_serving

_STATIONS = 4
_EVENTS = 1_000
_HEAP = 20
_SEED = 20260203


class _NewIds:
    """A transport of a station that makes its ids when it sends: each attempt has others."""

    def __init__(self, address: str) -> None:
        self._http = HttpTransport(address)
        self._chance = random.Random(_SEED)

    def send(self, request: Request, timeout_s: float) -> Response:
        body = json.loads(request.body or b"")
        own: dict[str, str] = {}
        for item in body["items"]:
            fresh = uuid7(int(time.monotonic() * 1000), self._chance.randbytes(10))
            own[str(fresh)] = item["event"]["id"]
            item["event"]["id"] = str(fresh)
        sent = Request(
            request.method, request.path, request.query, json.dumps(body).encode(), request.headers
        )
        response = self._http.send(sent, timeout_s)
        answer = json.loads(response.body)
        for outcome in answer.get("outcomes", []):
            outcome["id"] = own[outcome["id"]]
        return Response(response.status, response.headers, json.dumps(answer).encode())

    def open(self, request: Request, timeout_s: float) -> Opened:
        return self._http.open(request, timeout_s)

    def close(self) -> None:
        self._http.close()


def _wheels() -> list[str]:
    prefix = lot_code_prefix("QM", date(2026, 2, 3), "wheel")
    return [code for serial in range(1, 60) if (code := lot_code(prefix, serial)) is not None]


def _heap(name: int, first: int) -> list[Event]:
    """Some weighings of many wheels, noted with the station and a running number."""
    make, wheels = EventMaker(), _wheels()
    return [
        make.weigh(lot=wheels[number % len(wheels)], mass_g=4_000, note=f"{name}/{number}")
        for number in range(first, first + _HEAP)
    ]


def _station(name: int, path: Path, address: str, key: str | None, *, new_ids: bool) -> None:
    """Tell the events in small heaps while they are sent, until all are sent."""
    transport = _NewIds(address) if new_ids else HttpTransport(address)
    with (
        Client(address, key, transport=transport) as client,
        Outbox(path, client, policy=PATIENT) as outbox,
    ):
        for first in range(0, _EVENTS, _HEAP):
            outbox.tell_many(_heap(name, first))
        while outbox.status().queued:
            time.sleep(0.05)
        assert outbox.status().set_aside == 0


def _told_through_proxy(
    tmp_path: Path, server: StationServer, key: str | None, *, new_ids: bool
) -> tuple[list[Event], Counter[str]]:
    with hostile_proxy(server.address, seed=_SEED) as proxy:
        address = "http://{}:{}".format(*proxy.address)
        stations = [
            threading.Thread(
                target=_station,
                args=(name, tmp_path / f"{name}.db", address, key),
                kwargs={"new_ids": new_ids},
            )
            for name in range(_STATIONS)
        ]
        for station in stations:
            station.start()
        for station in stations:
            station.join()
        proxy.close()
        return server.told(), proxy.done


@pytest.fixture(autouse=True)
def small_batches(monkeypatch: pytest.MonkeyPatch) -> None:
    """Many requests, so that each fault happens often."""
    monkeypatch.setattr(_drain, "_MOST_ITEMS", 16)


@pytest.mark.slow
def test_a_hostile_network_neither_loses_nor_doubles_nor_swaps(
    tmp_path: Path, database_url: str
) -> None:
    """4 stations tell 1,000 events each through a proxy that spoils 30 % of the requests: exactly
    4,000 are recorded, each station's in the order it told them; the server misses no number.
    """
    with real_serving(database_url, tmp_path) as server:
        told, done = _told_through_proxy(tmp_path, server, server.key, new_ids=False)
        assert server.missing() == 0
    assert len(told) == _STATIONS * _EVENTS
    for name in range(_STATIONS):
        notes = [event.note for event in told if (event.note or "").startswith(f"{name}/")]
        assert notes == [f"{name}/{number}" for number in range(_EVENTS)]
    # Every fault was met, and about as often as was asked for.
    assert all(done[fault] > 0 for fault in FAULTS), done
    assert 0.2 < 1 - done["none"] / done.total() < 0.4


@pytest.mark.slow
def test_with_a_new_id_for_each_attempt_events_are_recorded_twice(tmp_path: Path) -> None:
    """The same network and a station that makes its ids when it sends: more than 4,000, so that
    the test above can fail.
    """
    with serving() as server:
        told, _ = _told_through_proxy(tmp_path, server, None, new_ids=True)
    assert len({event.note for event in told}) == _STATIONS * _EVENTS
    assert len(told) > _STATIONS * _EVENTS
    assert len({UUID(str(event.id)) for event in told}) == len(told)
