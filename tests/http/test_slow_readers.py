"""A reader who takes nothing of a long answer: the real server lets go of it."""

import json
import socket
import time
from collections.abc import Iterator

import msgspec
import pytest

from rindline_schema.events import Event, Hoop, NewWheel
from rindline_schema.uuid7 import uuid7
from rindline_server.http.openapi.event_examples import EVENT_EXAMPLES, MAKE, example_time
from tests.contract.record import Record
from tests.contract.story import DECLARATIONS
from tests.databases import migrated_sqlite, session_folder
from tests.http.serving import Serving, add_key, serving

# More than any socket buffers hold on the way (at most 4 MiB here and 6 MiB there on Linux).
_PARTS, _WHEELS_A_PART = 40, 1000
_PLACES = 2
_ROUTE = "/v1/lots/{lot}/trace/{direction}"


def _hooped(part: int) -> Event:
    return Hoop(
        id=uuid7(1_700_000_000_000, part.to_bytes(10, "big")),
        at=example_time(0, 6),
        site="QM",
        make=MAKE,
        product="QUILLMERE-BLUE",
        wheels=[NewWheel(mass_g=15)] * _WHEELS_A_PART,
        room="HOOPING",
    )


@pytest.fixture(scope="module")
def long_trace(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Serving, str]]:
    """A server with a make of 40,000 tiny wheels, and an auditor's key."""
    folder = tmp_path_factory.mktemp("long")
    url = str(migrated_sqlite(session_folder(), folder / "record.db"))
    with Record(url) as record:
        record.tell([*DECLARATIONS, EVENT_EXAMPLES["receive"], EVENT_EXAMPLES["make"]])
        for part in range(_PARTS):
            answer = record.tell([_hooped(part)]).json()
            assert answer["recorded"] == 1, answer
    with serving(url, folder, stall_s=1, threads=_PLACES) as server:
        yield server, add_key(url, "auditor")


def _begin(server: Serving, key: str) -> socket.socket:
    """Ask for the whole trace and take only the beginning."""
    connection = socket.socket()
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    connection.settimeout(60)
    connection.connect(("127.0.0.1", server.port))
    connection.sendall(
        f"GET /v1/lots/{MAKE}/trace/forward?format=ndjson HTTP/1.1\r\nHost: x\r\n"
        f"Authorization: Bearer {key}\r\n\r\n".encode()
    )
    assert connection.recv(1000).startswith(b"HTTP/1.1 200 ")
    return connection


def _notes(server: Serving, wanted: int) -> list[str]:
    """Wait until so many traces have their line in the log, and give their notes."""
    while True:
        lines = [json.loads(line) for line in server.log.read_text().splitlines()]
        notes = [line.get("note") for line in lines if line.get("route") == _ROUTE]
        if len(notes) >= wanted:
            return notes
        time.sleep(0.05)


@pytest.mark.slow
def test_who_takes_nothing_is_let_go_and_sees_it(long_trace: tuple[Serving, str]) -> None:
    """All places are held by readers who stall; then they are free again.

    What the stalled ones got is seen to be cut short: neither the end line nor the end of the
    chunks (RFC 9112, section 7.1) comes.
    """
    server, key = long_trace
    stalled = [_begin(server, key) for _ in range(_PLACES)]
    assert _notes(server, _PLACES) == ["the reader took nothing for too long"] * _PLACES
    for connection in stalled:
        got = b""
        try:
            while part := connection.recv(1_000_000):
                got += part
        except ConnectionResetError:
            pass
        assert b'"line":"end"' not in got
        assert not got.endswith(b"0\r\n\r\n")
        connection.close()
    with server.client(key) as client:
        whole = client.get(f"/v1/lots/{MAKE}/trace/forward?format=ndjson")
    last = msgspec.json.decode(whole.content.splitlines()[-1])
    assert (whole.status_code, last["line"], last["lots"]) == (200, "end", 40_001)


@pytest.mark.slow
def test_who_goes_away_is_not_sent_the_rest(long_trace: tuple[Serving, str]) -> None:
    """A connection closed amid the answer ends it at once, and the log says so."""
    server, key = long_trace
    before = len(_notes(server, 0))
    _begin(server, key).close()
    assert _notes(server, before + 1)[before] in (
        "the reader went away",
        "the reader took nothing for too long",
    )
