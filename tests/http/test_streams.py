"""Traces: their forms, their end, and what becomes of them when something breaks."""

import asyncio
from typing import Any

import pytest

from rindline_server.http.openapi.event_examples import WHEEL
from tests.http.conftest import Told

_TRACE = f"/v1/lots/{WHEEL}/trace/forward"


@pytest.mark.parametrize(
    ("query", "accept", "media"),
    [
        ("", "*/*", "application/json"),
        ("", "application/x-ndjson", "application/x-ndjson"),
        ("", "text/csv, application/json;q=0.5", "text/csv; charset=utf-8; header=present"),
        ("?format=ndjson", "text/csv", "application/x-ndjson"),
        ("?format=csv", "application/json", "text/csv; charset=utf-8; header=present"),
        ("?format=json", "text/csv", "application/json"),
    ],
)
def test_the_form_is_chosen_by_parameter_or_header(
    app: Told, query: str, accept: str, media: str
) -> None:
    """The parameter decides; without one the Accept header does; JSON if neither says anything."""
    with app.client("auditor") as client:
        reply = client.get(_TRACE + query, headers={"accept": accept})
    assert (reply.status_code, reply.headers["content-type"]) == (200, media)
    assert app.service.closed == 1


@pytest.mark.parametrize("form", ["json", "ndjson", "csv"])
def test_a_trace_the_caller_has_is_not_sent_again(app: Told, form: str) -> None:
    """Its tag stands for the question, the form and `as_of`: 304 until the ledger moves on."""
    with app.client("auditor") as client:
        tag = client.get(f"{_TRACE}?format={form}").headers["etag"]
        headers = {"if-none-match": tag}
        assert client.get(f"{_TRACE}?format={form}", headers=headers).status_code == 304
        app.service.seq += 1
        assert client.get(f"{_TRACE}?format={form}", headers=headers).status_code == 200
        others = {client.get(f"{_TRACE}?format={one}").headers["etag"] for one in ("json", "csv")}
    assert len(others) == 2
    assert app.service.closed == 5


@pytest.mark.parametrize("encoding", ["identity", "gzip"])
def test_a_streamed_trace_arrives_whole(app: Told, encoding: str) -> None:
    """Every piece arrives in order, zipped or not."""
    app.service.pieces = 20
    with app.client("auditor") as client:
        reply = client.get(f"{_TRACE}?format=ndjson", headers={"accept-encoding": encoding})
    assert ("content-encoding" in reply.headers) is (encoding == "gzip")
    assert len(reply.content) > 20 * 65_000
    assert reply.content.count(b"\n") == 22


@pytest.mark.parametrize("what", ["lot", "direction"])
def test_a_trace_of_nothing_is_not_found(app: Told, what: str) -> None:
    """A code with a wrong check character and a direction there isn't are no names of traces."""
    path = _TRACE[:-1] if what == "direction" else _TRACE.replace(WHEEL, WHEEL[:-1] + "-")
    with app.client("auditor") as client:
        reply = client.get(path)
    assert (reply.status_code, reply.json()["code"]) == (404, "not_found")


def _scope(path: str) -> dict[str, Any]:
    return {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "GET",
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"format=ndjson",
        "root_path": "",
        "headers": [(b"host", b"rindline.test"), (b"authorization", b"Bearer auditor")],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 2),
        "state": {},
    }


def test_a_trace_that_breaks_off_is_seen_to_be_cut_short(app: Told) -> None:
    """The error leaves the application after the answer began, so that the server breaks it off."""
    app.service.breaks_after = 1
    sent: list[Any] = []

    async def receive() -> Any:
        await asyncio.Event().wait()

    async def send(message: Any) -> None:
        sent.append(message)

    with pytest.raises(Exception, match="response started"):
        app.application.call(_scope(_TRACE), receive, send)
    assert [one.get("more_body") for one in sent] == [None, True, True]
    assert app.service.closed == 1


def test_a_reader_who_goes_away_ends_the_trace(app: Told) -> None:
    """No more pieces are made for nobody, and the snapshot is given back."""
    app.service.pieces = 1000
    sent: list[Any] = []
    gone = asyncio.Event()

    async def receive() -> Any:
        await gone.wait()
        return {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        sent.append(message)
        if len(sent) == 5:
            gone.set()

    app.application.call(_scope(_TRACE), receive, send)
    assert len(sent) < 10
    assert app.service.closed == 1


def test_a_reader_who_takes_nothing_is_left_behind(app: Told) -> None:
    """After the stall time the trace ends, so that nobody can hold a snapshot for ever."""

    async def receive() -> Any:
        await asyncio.Event().wait()

    async def send(message: Any) -> None:
        if message["type"] == "http.response.body":
            await asyncio.Event().wait()

    with pytest.raises(Exception, match="response started"):
        app.application.call(_scope(_TRACE), receive, send)
    assert app.service.closed == 1


def test_only_so_many_traces_are_streamed_at_once(app: Told) -> None:
    """Each holds a snapshot: when all places are taken the next caller is told to come back."""
    places = 2  # as many as there are threads

    async def receive() -> Any:
        await asyncio.Event().wait()

    async def ask(statuses: list[int], begun: asyncio.Event, release: asyncio.Event) -> None:
        async def send(message: Any) -> None:
            if message["type"] == "http.response.start":
                statuses.append(message["status"])
                begun.set()
                await release.wait()

        await app.application._app(_scope(_TRACE), receive, send)

    async def scenario() -> list[int]:
        statuses: list[int] = []
        release, at_once = asyncio.Event(), asyncio.Event()
        at_once.set()
        holding = []
        for _ in range(places):
            begun = asyncio.Event()
            holding.append(asyncio.create_task(ask(statuses, begun, release)))
            await begun.wait()
        await ask(statuses, asyncio.Event(), at_once)
        release.set()
        await asyncio.gather(*holding)
        await ask(statuses, asyncio.Event(), at_once)
        return statuses

    assert app.application._wait(scenario()) == [200, 200, 503, 200]
    assert app.service.closed == places + 1
