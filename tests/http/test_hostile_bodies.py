"""Bodies made to hurt: refused as problems, and the server neither dies nor swells."""

import json
from collections.abc import Iterator

import httpx
import msgspec
import pytest

from rindline_server.http.openapi.event_examples import EVENT_EXAMPLES
from tests.databases import migrated_sqlite, session_folder
from tests.http.serving import Serving, add_key, serving

_MIB = 1024 * 1024
_EVENT = msgspec.json.encode(EVENT_EXAMPLES["receive"])
_WITHOUT_END = _EVENT[:-1] + b","


def _zeros(mebibytes: int) -> Iterator[bytes]:
    for _ in range(mebibytes):
        yield b" " * _MIB


_BODIES: dict[str, tuple[bytes, int]] = {
    "100,000 deep": (b"[" * 100_000, 400),
    "100,000 deep in an object": (b'{"a":' * 100_000, 400),
    "deep in a field": (_WITHOUT_END + b'"note":' + b"[" * 100_000 + b"]" * 100_000 + b"}", 400),
    "NaN": (_WITHOUT_END + b'"temperature_c":NaN}', 400),
    "1e400": (_WITHOUT_END + b'"temperature_c":1e400}', 400),
    "a number of a million digits": (_WITHOUT_END + b'"mass_g":' + b"9" * 1_000_000 + b"}", 400),
    "repeated keys": (_WITHOUT_END + b'"note":"a","note":"b"}', 400),
    "lone surrogate": (_WITHOUT_END + b'"note":"\\ud83d"}', 400),
    "surrogate in bytes": (_WITHOUT_END + b'"note":"\xed\xa0\xbd"}', 400),
    "no UTF-8": (_WITHOUT_END + b'"note":"\xff"}', 400),
    "NUL": (_WITHOUT_END + b'"note":"\\u0000"}', 400),
    "empty": (b"", 400),
    "8 MiB of spaces": (b" " * (8 * _MIB), 400),
    "8 MiB in one text": (_WITHOUT_END + b'"note":"' + b"a" * (7 * _MIB) + b'"}', 400),
    "a million unknown fields": (
        b"{" + b",".join(b'"%d":0' % number for number in range(600_000)) + b"}",
        400,
    ),
    "more than 8 MiB": (b" " * (8 * _MIB + 1), 413),
}

_BATCHES: dict[str, tuple[bytes, int]] = {
    "10,000 events": (json.dumps([{"type": "move"}] * 10_000).encode(), 413),
    "no array": (b"{}", 400),
    "100,000 deep": (b"[" * 100_000, 400),
    "4 million empty lists": (b"[" + b"[]," * 2_700_000 + b"[]]", 413),
}


@pytest.fixture(scope="module")
def target(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Serving, str]]:
    folder = tmp_path_factory.mktemp("hostile")
    url = str(migrated_sqlite(session_folder(), folder / "record.db"))
    with serving(url, folder) as server:
        yield server, add_key(url, "manager")


def _post(client: httpx.Client, path: str, body: bytes | Iterator[bytes]) -> httpx.Response:
    return client.post(path, content=body, headers={"content-type": "application/json"})


@pytest.mark.parametrize("name", _BODIES)
def test_a_hostile_body_is_refused(target: tuple[Serving, str], name: str) -> None:
    """A problem with a status of 4xx, and the next caller is answered."""
    server, key = target
    body, status = _BODIES[name]
    with server.client(key) as client:
        assert _post(client, "/v1/events", body).status_code == status
        assert client.get("/health/ready").is_success


@pytest.mark.parametrize("name", _BATCHES)
def test_a_hostile_batch_is_refused(target: tuple[Serving, str], name: str) -> None:
    """So are batches that are too many, too deep or no batches."""
    server, key = target
    body, status = _BATCHES[name]
    with server.client(key) as client:
        assert _post(client, "/v1/events/batch", body).status_code == status
        assert client.get("/health/ready").is_success


def test_events_that_are_broken_apart_from_json_get_their_places(
    target: tuple[Serving, str],
) -> None:
    """A thousand malformed events are a thousand refusals, told in one answer."""
    server, key = target
    with server.client(key) as client:
        reply = _post(client, "/v1/events/batch", json.dumps([{"type": "move"}] * 1000).encode())
    assert (reply.status_code, reply.json()["refused"]) == (200, 1000)


@pytest.mark.parametrize("how", ["announced", "in pieces"])
def test_a_hundred_megabytes_are_not_taken(target: tuple[Serving, str], how: str) -> None:
    """413 long before the end, whether or not the length was announced."""
    server, key = target
    with server.client(key) as client:
        body = b" " * (100 * _MIB) if how == "announced" else _zeros(100)
        reply = _post(client, "/v1/events", body)
        assert (reply.status_code, reply.json()["code"]) == (413, "too_large")


@pytest.mark.parametrize("kind", [None, "text/plain", "application/xml"])
def test_the_wrong_kind_of_body_is_not_read(target: tuple[Serving, str], kind: str | None) -> None:
    """415 by the header alone, also for a hundred megabytes."""
    server, key = target
    headers = {} if kind is None else {"content-type": kind}
    with server.client(key) as client:
        reply = client.post("/v1/events", content=_zeros(100), headers=headers)
    assert reply.status_code == 415


@pytest.mark.slow
def test_memory_stays_flat(target: tuple[Serving, str]) -> None:
    """The same again and again does not make the server grow: what one took, it gives back.

    The first round fills the allocator's and the caches' reserves; after it, no round may add
    more than a few bodies' worth (this project's own limit).
    """
    server, key = target

    def round_of_all() -> None:
        with server.client(key) as client:
            for body, _ in _BODIES.values():
                _post(client, "/v1/events", body)
            for body, _ in _BATCHES.values():
                _post(client, "/v1/events/batch", body)
            _post(client, "/v1/events", _zeros(100))

    round_of_all()
    round_of_all()
    before = server.resident_bytes()
    for _ in range(4):
        round_of_all()
    assert server.resident_bytes() - before < 4 * 8 * _MIB
