"""How a body is taken in: its kind, its size, its time."""

import asyncio
import json
from typing import Any

import msgspec
import pytest

from rindline_schema.answers import Refused
from rindline_schema.operations import MAX_BODY_BYTES
from rindline_schema.problems import make_problem
from rindline_server.http.openapi.event_examples import EVENT_EXAMPLES, WHEEL
from tests.http.conftest import Told

_EVENT = msgspec.json.encode(EVENT_EXAMPLES["move"])
_JSON = {"content-type": "application/json"}


def test_an_event_told_is_answered_once_it_is_recorded(app: Told) -> None:
    """201 with its seq; what reached the service is the event as it was sent."""
    with app.client("station") as client:
        reply = client.post("/v1/events", content=_EVENT, headers=_JSON)
    assert (reply.status_code, reply.json()["outcome"], reply.json()["seq"]) == (201, "recorded", 8)
    assert app.service.told == [EVENT_EXAMPLES["move"]]


def test_a_refused_event_is_answered_with_its_problem(app: Told) -> None:
    """The refusal of a single event becomes the status, with what helps to mend it."""
    problem = make_problem("not_enough", "Too much.", lot=WHEEL, left_g=17)
    app.service.outcome = lambda _event: Refused(problem=problem)
    with app.client("station") as client:
        reply = client.post("/v1/events", content=_EVENT, headers=_JSON)
    assert (reply.status_code, reply.json()["code"], reply.json()["left_g"]) == (
        409,
        "not_enough",
        17,
    )
    assert reply.json()["request_id"] == reply.headers["x-request-id"]


def test_a_batch_answers_each_event_in_its_place(app: Told) -> None:
    """The malformed among them reach the service as refusals, so that it can count them."""
    body = json.dumps([json.loads(_EVENT), 5, json.loads(_EVENT)])
    with app.client("station") as client:
        reply = client.post("/v1/events/batch", content=body, headers=_JSON)
    answer = reply.json()
    assert [one["outcome"] for one in answer["outcomes"]] == ["recorded", "refused", "recorded"]
    assert (answer["recorded"], answer["refused"], answer["replayed"]) == (2, 1, 0)
    assert isinstance(app.service.told[1], Refused)


@pytest.mark.parametrize("path", ["/v1/events", "/v1/events/batch", "/v1/drills"])
@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"content-type": "text/plain"},
        {"content-type": "application/x-www-form-urlencoded"},
        {"content-type": "application/json; charset=latin-1"},
        {"content-type": "application/json", "content-encoding": "gzip"},
        {"content-type": "multipart/form-data; boundary=x"},
    ],
    ids=["none", "text", "form", "charset", "encoded", "parts"],
)
def test_a_body_must_be_json(app: Told, path: str, headers: dict[str, str]) -> None:
    """Another kind of body is refused by its headers (RFC 9110, section 15.5.16)."""
    with app.client("manager") as client:
        reply = client.post(path, content=_EVENT, headers=headers)
    assert (reply.status_code, reply.json()["code"]) == (415, "wrong_content_type")


@pytest.mark.parametrize("kind", ["application/json", "Application/JSON; Charset=UTF-8"])
def test_json_in_utf_8_is_taken_however_it_is_spelt(app: Told, kind: str) -> None:
    """Media types and charsets have no case (RFC 9110, section 8.3)."""
    with app.client("station") as client:
        reply = client.post("/v1/events", content=_EVENT, headers={"content-type": kind})
    assert reply.status_code == 201


class _Pipe:
    """A body in parts, made as they are asked for; counts how far it was read."""

    def __init__(self, part: bytes, parts: int, *, hangs: bool = False) -> None:
        self.part = part
        self.parts = parts
        self.hangs = hangs
        self.read = 0

    async def receive(self) -> Any:
        if self.read == self.parts:
            if self.hangs:
                await asyncio.Event().wait()
            return {"type": "http.disconnect"}
        self.read += 1
        more = self.read < self.parts or self.hangs
        return {"type": "http.request", "body": self.part, "more_body": more}


def _post(app: Told, pipe: _Pipe, *headers: tuple[bytes, bytes]) -> tuple[int, dict[str, Any]]:
    sent: list[Any] = []

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "POST",
        "scheme": "http",
        "path": "/v1/events/batch",
        "raw_path": b"/v1/events/batch",
        "query_string": b"",
        "root_path": "",
        "headers": [
            (b"authorization", b"Bearer station"),
            (b"content-type", b"application/json"),
            *headers,
        ],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 2),
        "state": {},
    }
    app.application.call(scope, pipe.receive, send)
    if not sent:
        return 0, {}
    return sent[0]["status"], {**json.loads(sent[1]["body"]), "headers": dict(sent[0]["headers"])}


def test_reading_stops_when_a_body_grows_too_large(app: Told) -> None:
    """Without an announced length: one part beyond the limit is read and no more."""
    part = b" " * (1024 * 1024)
    pipe = _Pipe(part, 100)
    status, problem = _post(app, pipe)
    assert (status, problem["code"]) == (413, "too_large")
    assert pipe.read == MAX_BODY_BYTES // len(part) + 1
    assert problem["headers"][b"connection"] == b"close"


def test_a_body_announced_too_large_is_not_read_at_all(app: Told) -> None:
    """With an announced length nothing is read."""
    pipe = _Pipe(b" " * 1024, 100)
    status, problem = _post(app, pipe, (b"content-length", b"%d" % (MAX_BODY_BYTES + 1)))
    assert (status, problem["code"], pipe.read) == (413, "too_large", 0)


def test_a_body_that_does_not_come_is_given_up(app: Told) -> None:
    """After the deadline: 408, and the connection is of no more use (RFC 9110, s. 15.5.9)."""
    status, problem = _post(app, _Pipe(b"[", 1, hangs=True))
    assert (status, problem["code"], problem["retryable"]) == (408, "request_timeout", True)
    assert problem["headers"][b"connection"] == b"close"


def test_who_goes_away_halfway_tells_nothing(app: Told) -> None:
    """Half a body is never told, even if it would be whole JSON."""
    pipe = _Pipe(b"[]", 2)
    pipe.parts = 1
    pipe.read = 0

    async def receive() -> Any:
        if pipe.read:
            return {"type": "http.disconnect"}
        pipe.read = 1
        return {"type": "http.request", "body": b"[" + _EVENT + b"]", "more_body": True}

    pipe.receive = receive  # type: ignore[method-assign]
    assert _post(app, pipe) == (0, {})
    assert app.service.told == []


def test_nobody_reads_the_body_of_a_stranger(app: Told) -> None:
    """Without a key the answer comes before a byte of the body is read."""
    sent: list[Any] = []

    async def receive() -> Any:
        raise AssertionError("read")

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {
        "type": "http",
        "method": "POST",
        "path": "/v1/events",
        "raw_path": b"/v1/events",
        "query_string": b"",
        "root_path": "",
        "headers": [(b"content-type", b"application/json")],
        "state": {},
    }
    app.application.call(scope, receive, send)
    assert sent[0]["status"] == 401


def test_a_large_batch_is_decoded_off_the_event_loop(app: Told) -> None:
    """Ten thousand events are refused by their number, well below the limit of bytes."""
    body = b"[" + b",".join([b'{"type":"move"}'] * 10_000) + b"]"
    with app.client("station") as client:
        reply = client.post("/v1/events/batch", content=body, headers=_JSON)
    assert (reply.status_code, reply.json()["code"]) == (413, "too_large")
