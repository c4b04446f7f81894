"""Callers who are slow, many or too much: the real server on a real socket stays answerable."""

import contextlib
import socket
import threading
import time
from collections.abc import Iterator

import httpx
import pytest

from rindline_server.settings import Settings
from tests.databases import migrated_sqlite, session_folder
from tests.http.serving import Serving, add_key, serving

_SHORT_S = 1.0  # the server's patience in these tests


class _Slow:
    """The server with little patience, and a key that may tell events."""

    def __init__(self, server: Serving, key: str) -> None:
        self.server = server
        self.head = (
            b"POST /v1/events HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
            b"Authorization: Bearer " + key.encode() + b"\r\n"
        )

    def answers_meanwhile(self) -> bool:
        with self.server.client() as client:
            return client.get("/health/live").is_success


@pytest.fixture(scope="module")
def slow(tmp_path_factory: pytest.TempPathFactory) -> Iterator[_Slow]:
    folder = tmp_path_factory.mktemp("slow")
    url = str(migrated_sqlite(session_folder(), folder / "record.db"))
    with serving(url, folder, body_s=_SHORT_S, header_s=_SHORT_S) as server:
        yield _Slow(server, add_key(url, "manager"))


def _rest(connection: socket.socket) -> bytes:
    """Read until the server closes; a socket left open fails by its timeout."""
    parts = []
    while part := connection.recv(65_536):
        parts.append(part)
    return b"".join(parts)


def _drip(connection: socket.socket, drop: bytes) -> None:
    """Send a little every now and then, until the server has had enough of it."""
    while True:
        connection.sendall(drop)
        time.sleep(_SHORT_S / 20)


@pytest.mark.parametrize(
    "begun", [b"", b"GET / HT", b"GET /health/live HTTP/1.1\r\nHost: x\r\nX-A: "]
)
def test_headers_that_do_not_come_are_given_up(slow: _Slow, begun: bytes) -> None:
    """A connection that never says what it wants is closed; others are answered meanwhile."""
    with slow.server.connect() as connection:
        connection.sendall(begun)
        assert slow.answers_meanwhile()
        assert b" 200 " not in _rest(connection)


def test_headers_that_drip_are_given_up(slow: _Slow) -> None:
    """A byte now and then does not keep the connection: the time counts for all headers."""
    with slow.server.connect() as connection:
        connection.sendall(b"GET /health/live HTTP/1.1\r\nHost: x\r\n")
        with pytest.raises(OSError, match=r"Broken pipe|reset"):
            _drip(connection, b"X-A: b\r\n")


@pytest.mark.parametrize(
    "announced", [b"Content-Length: 100\r\n", b"Transfer-Encoding: chunked\r\n"]
)
def test_a_body_that_does_not_come_is_answered_408(slow: _Slow, announced: bytes) -> None:
    """The answer says why, and the connection ends with it."""
    with slow.server.connect() as connection:
        connection.sendall(slow.head + announced + b"\r\n")
        assert slow.answers_meanwhile()
        reply = _rest(connection)
    assert reply.startswith(b"HTTP/1.1 408 ")
    assert b'"code":"request_timeout"' in reply


def test_a_body_that_drips_is_answered_408(slow: _Slow) -> None:
    """A byte now and then does not keep the request: the time counts for the whole body."""
    with slow.server.connect() as connection:
        connection.sendall(slow.head + b"Content-Length: 100000\r\n\r\n")

        def drip() -> None:
            with contextlib.suppress(OSError):
                _drip(connection, b" ")

        dripping = threading.Thread(target=drip)
        dripping.start()
        reply = connection.recv(65_536)
        connection.shutdown(socket.SHUT_RDWR)
        dripping.join()
    assert reply.startswith(b"HTTP/1.1 408 ")


@pytest.mark.parametrize(
    "headers",
    [
        b"X-A: " + b"a" * 20_000,
        b"X-A: " + b"a" * 1_000_000,
        b"\r\n".join(b"X-%d: a" % number for number in range(500)),
        b"\r\n".join(b"X-%d: " % number + b"a" * 4000 for number in range(50)),
    ],
    ids=["long", "huge", "many", "many-long"],
)
def test_headers_that_are_too_much_are_refused(slow: _Slow, headers: bytes) -> None:
    """431, by us or by the HTTP server before us (RFC 6585, section 5)."""
    with slow.server.connect() as connection:
        with contextlib.suppress(OSError):  # it may have had enough before all is sent
            connection.sendall(b"GET /health/live HTTP/1.1\r\nHost: x\r\n" + headers + b"\r\n\r\n")
        assert connection.recv(65_536).startswith(b"HTTP/1.1 431 ")
    assert slow.answers_meanwhile()


def test_many_idle_connections_leave_room_for_one_that_asks(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Five hundred open connections that say nothing do not keep the next from being answered.

    The server is begun with fewer open files than that allowed, as some systems do at first: the
    HTTP server asks for more by itself, and this would notice if it no longer did.
    """
    folder = tmp_path_factory.mktemp("idle")
    url = str(migrated_sqlite(session_folder(), folder / "record.db"))
    few_files = ["sh", "-c", 'ulimit -Sn 256 && exec "$@"', "sh"]
    patient_s = 60  # none of the idle ones is given up meanwhile
    with serving(url, folder, before=few_files, header_s=patient_s) as server:
        idle = [server.connect() for _ in range(500)]
        try:
            assert httpx.get(f"{server.url}/health/live", timeout=patient_s / 3).is_success
        finally:
            for connection in idle:
                connection.close()


def test_many_slow_bodies_leave_room_for_one_that_asks(slow: _Slow) -> None:
    """Nor do a hundred bodies that never come: waiting for one holds no thread."""
    waiting = [slow.server.connect() for _ in range(100)]
    try:
        for connection in waiting:
            connection.sendall(slow.head + b"Content-Length: 100\r\n\r\n")
        assert slow.answers_meanwhile()
        for connection in waiting:
            assert connection.recv(65_536).startswith(b"HTTP/1.1 408 ")
    finally:
        for connection in waiting:
            connection.close()


@pytest.mark.slow
def test_an_idle_connection_outlives_the_clients_own_patience(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """httpx drops idle connections after 5 s (its default limits): the server must not be first.

    If it were, a request could go out on a connection that is just being closed.
    """
    patience_s = httpx.Limits().keepalive_expiry
    assert patience_s == 5.0
    assert Settings().header_s > patience_s + 1
    folder = tmp_path_factory.mktemp("idle")
    url = str(migrated_sqlite(session_folder(), folder / "record.db"))
    with serving(url, folder) as server, server.connect() as connection:
        for _ in range(2):
            connection.sendall(b"GET /health/live HTTP/1.1\r\nHost: x\r\n\r\n")
            assert connection.recv(65_536).startswith(b"HTTP/1.1 200 ")
            time.sleep(patience_s + 0.5)
