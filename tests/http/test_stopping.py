"""Stopping: what was acknowledged is kept, what is in flight is finished, and then it ends."""

import threading
from pathlib import Path
from typing import Any

import httpx
import msgspec
import pytest

from rindline_schema.events import Declare
from rindline_schema.params import FeedParams
from rindline_schema.registers import Partner
from rindline_schema.uuid7 import uuid7
from rindline_server.app import open_service
from rindline_server.http.openapi.event_examples import example_time
from rindline_server.settings import Settings
from tests.http.serving import Serving, add_key, serving

_TELLERS = 8


def _declaration(number: int) -> Declare:
    return Declare(
        id=uuid7(1_700_000_000_000 + number, number.to_bytes(10, "big")),
        at=example_time(0),
        site="QM",
        entry=Partner(code=f"SHOP-{number}", name=f"Shop {number}", roles=["customer"]),
    )


def _recorded_ids(database_url: str) -> set[str]:
    ids: set[str] = set()
    after, more = 0, True
    with open_service(Settings(database_url=database_url)) as service:
        caller = service.who(service.add_key("reader", "auditor"))
        assert caller is not None
        while more:
            page = service.feed(caller, FeedParams(after=after, limit=1000))
            ids |= {str(one.event.id) for one in page.events}
            after, more = page.next_after, page.more
    return ids


class _Teller(threading.Thread):
    """Tells events one after another until the server is gone, and notes what was answered."""

    def __init__(self, server: Serving, key: str, first: int, begun: threading.Barrier) -> None:
        super().__init__()
        self.server = server
        self.key = key
        self.first = first
        self.begun = begun
        self.acknowledged: set[str] = set()
        self.odd: list[Any] = []

    def run(self) -> None:
        headers = {"authorization": f"Bearer {self.key}", "content-type": "application/json"}
        with httpx.Client(base_url=self.server.url, headers=headers, timeout=60) as client:
            for number in range(self.first, self.first + 100_000):
                event = _declaration(number)
                try:
                    reply = client.post("/v1/events", content=msgspec.json.encode(event))
                except httpx.TransportError:
                    return  # it is gone
                if reply.status_code == 201:
                    self.acknowledged.add(str(event.id))
                elif reply.status_code != 503:
                    self.odd.append((reply.status_code, reply.text))
                if len(self.acknowledged) == 10:
                    self.begun.wait(60)


@pytest.mark.parametrize("workers", [1, 2])
def test_stopping_under_load_loses_nothing_acknowledged(
    database_url: str, tmp_path: Path, workers: int
) -> None:
    """SIGTERM amid eight tellers: every event that got its 201 is in the ledger, and exit is 0."""
    key = add_key(database_url, "manager")
    with serving(database_url, tmp_path, workers=workers) as server:
        begun = threading.Barrier(_TELLERS + 1)
        tellers = [
            _Teller(server, key, 1_000_000 * (1 + number), begun) for number in range(_TELLERS)
        ]
        for teller in tellers:
            teller.start()
        begun.wait(60)
        server.terminate()
        code = server.wait()
        for teller in tellers:
            teller.join(60)
        said = server.log.read_text()
    acknowledged = set[str]().union(*(teller.acknowledged for teller in tellers))
    assert code == 0, said
    assert [teller.odd for teller in tellers if teller.odd] == []
    assert len(acknowledged) >= 10 * _TELLERS
    assert acknowledged <= _recorded_ids(database_url)


def _half_a_request(server: Serving, key: str) -> tuple[Any, bytes]:
    body = msgspec.json.encode(_declaration(1))
    connection = server.connect()
    connection.sendall(
        b"POST /v1/events HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
        b"Authorization: Bearer %s\r\nContent-Length: %d\r\n\r\n"
        % (key.encode(), len(body))
        + body[:20]
    )
    # The body's reading has begun once another request, sent later, is answered.
    with server.client() as client:
        assert client.get("/health/live").is_success
    return connection, body[20:]


def _wait_until_deaf(server: Serving) -> None:
    while server.is_listening():
        pass


def test_a_request_in_flight_is_finished(database_url: str, tmp_path: Path) -> None:
    """After SIGTERM no new connection is taken, but a request half sent is taken and recorded."""
    key = add_key(database_url, "manager")
    with serving(database_url, tmp_path) as server:
        connection, rest = _half_a_request(server, key)
        with connection:
            server.terminate()
            _wait_until_deaf(server)
            connection.sendall(rest)
            reply = connection.recv(65_536)
        assert server.wait() == 0
    assert reply.startswith(b"HTTP/1.1 201 ")
    assert _recorded_ids(database_url) == {str(_declaration(1).id)}


def test_a_request_that_never_ends_does_not_keep_it_from_stopping(
    database_url: str, tmp_path: Path
) -> None:
    """Half a body that never comes to its end: given up by its deadline, and then exit 0."""
    key = add_key(database_url, "manager")
    with serving(database_url, tmp_path, body_s=1, stop_s=20) as server:
        connection, _ = _half_a_request(server, key)
        with connection:
            server.terminate()
            assert server.wait() == 0
            assert connection.recv(65_536).startswith(b"HTTP/1.1 408 ")
    assert _recorded_ids(database_url) == set()


def test_idle_connections_do_not_keep_it_from_stopping(database_url: str, tmp_path: Path) -> None:
    """Connections that were answered and wait, and ones that said nothing, are closed."""
    with serving(database_url, tmp_path) as server:
        waiting = [server.connect() for _ in range(20)]
        for connection in waiting[:10]:
            connection.sendall(b"GET /health/live HTTP/1.1\r\nHost: x\r\n\r\n")
            assert connection.recv(65_536).startswith(b"HTTP/1.1 200 ")
        server.terminate()
        assert server.wait() == 0
        for connection in waiting:
            assert connection.recv(65_536) == b""
            connection.close()
