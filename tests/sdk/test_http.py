"""The clients over HTTP as httpx speaks it: retries, deadlines, problems, streams, gzip."""

import asyncio
import gzip
import json
import ssl
from collections.abc import AsyncIterator, Callable, Iterator

import httpx
import msgspec
import pytest
import respx

from rindline import (
    AsyncClient,
    Client,
    CutShortError,
    DeadlineError,
    ForbiddenError,
    InvalidInputError,
    InvalidRequestError,
    NotFoundError,
    ProblemError,
    RefusedError,
    RetryPolicy,
    TransportError,
    UnauthorizedError,
    UnavailableError,
    UnexpectedAnswerError,
)
from rindline.testing import FakeClock, FakeServer
from rindline.transport import HttpTransport
from rindline_schema.answers import (
    EdgeLine,
    EndLine,
    FeedPage,
    HeadLine,
    LotLine,
    LotPage,
    LotSummary,
    OriginAnswer,
    TraceAnswer,
    TraceLine,
    Whoami,
)
from rindline_schema.problems import Fault, make_problem
from tests.sdk.samples import DRILL, LOT, MAKE, MILK, ORIGIN, PORTION, TRACE, WHEEL

_SERVER = "http://dairy.invalid:8040"
_KEY = "rl_an-invented-key"
_ORIGIN_URL = f"{_SERVER}/v1/lots/{PORTION}/origin"
_TRACE_URL = f"{_SERVER}/v1/lots/{MILK}/trace/forward"
_LINES = b"".join(
    msgspec.json.encode(line) + b"\n"
    for line in (
        HeadLine(lot=MILK, direction="forward", as_of=41),
        LotLine(**msgspec.structs.asdict(TRACE.lots[0])),
        LotLine(**msgspec.structs.asdict(TRACE.lots[1])),
        EdgeLine(parent=MILK, child=MAKE, mass_g=412_000),
        EndLine(lots=2, edges=1, counts=TRACE.counts),
    )
)


def _answer(answer: msgspec.Struct, status: int = 200, **headers: str) -> httpx.Response:
    return httpx.Response(status, headers=headers, content=msgspec.json.encode(answer))


def _problem(code: str, **headers: str) -> httpx.Response:
    problem = make_problem(code, "as the test says", request_id="req-7")
    return _answer(problem, problem.status, **headers)


class _Stream(httpx.SyncByteStream, httpx.AsyncByteStream):
    """A body in parts; an exception among them is raised."""

    def __init__(
        self, *parts: bytes | Exception, between: Callable[[], None] | None = None
    ) -> None:
        self._parts = parts
        self._between = between
        self.closed = False

    def __iter__(self) -> Iterator[bytes]:
        for part in self._parts:
            if isinstance(part, Exception):
                raise part
            if self._between is not None:
                self._between()
            yield part

    async def __aiter__(self) -> AsyncIterator[bytes]:
        for part in self:
            yield part

    def close(self) -> None:
        self.closed = True

    async def aclose(self) -> None:
        self.closed = True


def _ask_origin(sort: str, clock: FakeClock, retries: RetryPolicy | None = None) -> OriginAnswer:
    if sort == "sync":
        with Client(_SERVER, _KEY, clock=clock, retries=retries) as client:
            return client.origin(PORTION)

    async def ask() -> OriginAnswer:
        async with AsyncClient(_SERVER, _KEY, clock=clock, retries=retries) as client:
            return await client.origin(PORTION)

    return asyncio.run(ask())


def _read_trace(sort: str) -> list[TraceLine]:
    if sort == "sync":
        with Client(_SERVER, _KEY, clock=FakeClock()) as client:
            return list(client.trace_lines(MILK, "forward"))

    async def read() -> list[TraceLine]:
        async with AsyncClient(_SERVER, _KEY, clock=FakeClock()) as client:
            return [line async for line in client.trace_lines(MILK, "forward")]

    return asyncio.run(read())


both = pytest.mark.parametrize("sort", ["sync", "async"])


@both
@respx.mock
def test_a_request_carries_key_and_name(sort: str) -> None:
    """The key goes as a bearer token; the server's log can tell an SDK from a browser."""
    route = respx.get(_ORIGIN_URL).mock(return_value=_answer(ORIGIN))
    assert _ask_origin(sort, FakeClock()) == ORIGIN
    sent = route.calls.last.request
    assert sent.headers["authorization"] == f"Bearer {_KEY}"
    assert sent.headers["user-agent"].startswith("rindline/")
    assert sent.headers["accept"] == "application/json"
    assert "gzip" in sent.headers["accept-encoding"]


@both
@respx.mock
def test_passing_faults_are_overcome(sort: str) -> None:
    """A refused connection, a lost answer, a busy server, a proxy's 502: the fifth try counts."""
    respx.get(_ORIGIN_URL).mock(
        side_effect=[
            httpx.ConnectError("refused"),
            httpx.RemoteProtocolError("Server disconnected without sending a response."),
            _problem("busy", **{"retry-after": "3"}),
            httpx.Response(502, text="<html>"),
            _answer(ORIGIN),
        ]
    )
    clock = FakeClock(luck=0.5)
    assert _ask_origin(sort, clock) == ORIGIN
    # Full jitter: half of 0.2, 0.4, 0.8, 1.6; on top of the 3 s the server asked for.
    assert clock.slept == pytest.approx([0.1, 0.2, 3.4, 0.8])


@both
@respx.mock
def test_the_deadline_ends_the_tries(sort: str) -> None:
    """A server that stays away is given up in time, with what went wrong last as the cause."""
    respx.get(_ORIGIN_URL).mock(side_effect=httpx.ConnectError("refused"))
    clock = FakeClock(luck=0.9)
    with pytest.raises(DeadlineError, match="No answer within the 4 s") as caught:
        _ask_origin(sort, clock, RetryPolicy(deadline_s=4, max_attempts=1000))
    assert clock.passed_s <= 4
    assert isinstance(caught.value.__cause__, TransportError)
    assert f"{_SERVER} cannot be reached" in str(caught.value.__cause__)


@both
@respx.mock
def test_the_time_limit_of_an_attempt_reaches_httpx(sort: str) -> None:
    """Each attempt is given its own limit, the last one only what the deadline leaves."""
    route = respx.get(_ORIGIN_URL).mock(side_effect=httpx.ReadTimeout("slow"))
    policy = RetryPolicy(max_attempts=2, attempt_timeout_s=7, deadline_s=7.1, base_s=0.2)
    with pytest.raises(TransportError, match=r"did not answer within 7 s"):
        _ask_origin(sort, FakeClock(luck=0.5), policy)
    limits = [call.request.extensions["timeout"]["read"] for call in route.calls]
    assert limits == pytest.approx([7, 7])


@both
@respx.mock
def test_an_answer_that_drips_is_given_up(sort: str) -> None:
    """Each wait is short, yet the answer as a whole may not take longer than an attempt may."""
    clock = FakeClock()
    body = msgspec.json.encode(ORIGIN)
    drips = [body[i : i + 20] for i in range(0, len(body), 20)]
    stream = _Stream(*drips, between=lambda: clock.sleep(4))
    respx.get(_ORIGIN_URL).mock(return_value=httpx.Response(200, stream=stream))
    with pytest.raises(TransportError, match="not whole within 10 s"):
        _ask_origin(sort, clock, RetryPolicy(max_attempts=1, attempt_timeout_s=10))
    assert clock.passed_s < 20
    assert stream.closed


def test_a_certificate_that_fails_is_not_tried_again() -> None:
    """A wrong certificate stays wrong, and may be somebody else's server."""
    tried = []

    def fail(request: httpx.Request) -> httpx.Response:
        tried.append(request)
        raise httpx.ConnectError("failed", request=request) from ssl.SSLCertVerificationError()

    transport = HttpTransport(_SERVER, client=httpx.Client(transport=httpx.MockTransport(fail)))
    client = Client(transport=transport, clock=FakeClock())
    with client, pytest.raises(TransportError, match="No secure connection") as caught:
        client.whoami()
    assert not caught.value.retryable
    assert len(tried) == 1


@pytest.mark.parametrize(
    ("code", "error"),
    [
        ("unauthorized", UnauthorizedError),
        ("forbidden", ForbiddenError),
        ("not_found", NotFoundError),
        ("malformed", InvalidRequestError),
        ("lot_held", RefusedError),
        ("not_valid", RefusedError),
        ("busy", UnavailableError),
        ("internal", UnavailableError),
    ],
)
@both
@respx.mock
def test_a_problem_becomes_its_error(sort: str, code: str, error: type[ProblemError]) -> None:
    """The error carries code, status, request id and advice, and its text says all of it."""
    respx.get(_ORIGIN_URL).mock(return_value=_problem(code))
    with pytest.raises(error) as caught:
        _ask_origin(sort, FakeClock(), RetryPolicy(max_attempts=2))
    expected = make_problem(code, "as the test says", request_id="req-7")
    assert type(caught.value) is error
    assert caught.value.problem == expected
    assert (caught.value.code, caught.value.status) == (code, expected.status)
    assert (caught.value.request_id, caught.value.what_to_do) == ("req-7", expected.what_to_do)
    for said in (expected.title, "as the test says", expected.what_to_do, code, "req-7"):
        assert said in str(caught.value)


@respx.mock
def test_a_refusal_names_every_fault_and_what_is_left() -> None:
    """Grams left, events in the way and all faults are in the message."""
    problem = make_problem(
        "not_enough",
        "300 g are asked of it",
        left_g=120,
        event_ids=["a", "b"],
        faults=[Fault(pointer="/pieces/0/mass_g", detail="too much")],
    )
    respx.post(f"{_SERVER}/v1/events").mock(return_value=_answer(problem, 409))
    with Client(_SERVER, clock=FakeClock()) as client, pytest.raises(RefusedError) as caught:
        client.weigh(lot=WHEEL, mass_g=1)
    for said in ("120 g are left", "a, b", "/pieces/0/mass_g: too much"):
        assert said in str(caught.value)


@both
@respx.mock
def test_what_is_not_the_server_is_named_as_such(sort: str) -> None:
    """A login page, a redirect, another program: said plainly, never taken for an answer."""
    for answer, error in (
        (httpx.Response(200, text="<html>welcome</html>"), UnexpectedAnswerError),
        (httpx.Response(200, json={"hello": "there"}), UnexpectedAnswerError),
        (
            httpx.Response(302, headers={"location": "http://elsewhere.invalid"}),
            UnexpectedAnswerError,
        ),
        (httpx.Response(404, text="no such page"), NotFoundError),
        (httpx.Response(503, text="upstream"), UnavailableError),
    ):
        respx.get(_ORIGIN_URL).mock(return_value=answer)
        with pytest.raises(error, match="address"):
            _ask_origin(sort, FakeClock(), RetryPolicy(max_attempts=1))


@both
@respx.mock
def test_a_redirect_takes_the_key_nowhere(sort: str) -> None:
    """The key goes to the address that was given and to no other."""
    respx.get(_ORIGIN_URL).mock(
        return_value=httpx.Response(307, headers={"location": "http://elsewhere.invalid/"})
    )
    elsewhere = respx.get("http://elsewhere.invalid/").mock(return_value=_answer(ORIGIN))
    with pytest.raises(UnexpectedAnswerError):
        _ask_origin(sort, FakeClock())
    assert not elsewhere.called


@both
@respx.mock
def test_a_compressed_answer_is_unpacked(sort: str) -> None:
    """Answers may come with gzip, as asked for."""
    packed = gzip.compress(msgspec.json.encode(ORIGIN))
    respx.get(_ORIGIN_URL).mock(
        return_value=httpx.Response(200, headers={"content-encoding": "gzip"}, content=packed)
    )
    assert _ask_origin(sort, FakeClock()) == ORIGIN


@both
@respx.mock
def test_a_spoilt_compressed_answer_is_asked_for_again(sort: str) -> None:
    """Damage on the way is a fault of the connection, not of the server."""
    headers = {"content-encoding": "gzip"}
    respx.get(_ORIGIN_URL).mock(
        side_effect=[
            httpx.Response(200, headers=headers, stream=_Stream(b"\x1f\x8bnot at all")),
            _answer(ORIGIN),
        ]
    )
    assert _ask_origin(sort, FakeClock()) == ORIGIN


@both
@respx.mock
def test_a_trace_streams_line_by_line(sort: str) -> None:
    """Cut into parts at odd places and compressed, the lines come out typed and in order."""
    packed = gzip.compress(_LINES)
    parts = [packed[i : i + 7] for i in range(0, len(packed), 7)]
    stream = _Stream(*parts)
    route = respx.get(_TRACE_URL).mock(
        return_value=httpx.Response(200, headers={"content-encoding": "gzip"}, stream=stream)
    )
    lines = _read_trace(sort)
    assert [type(line) for line in lines] == [HeadLine, LotLine, LotLine, EdgeLine, EndLine]
    assert [line.lot for line in lines if isinstance(line, LotLine)] == [MILK, MAKE]
    assert route.calls.last.request.url.params["format"] == "ndjson"
    assert stream.closed


@both
@pytest.mark.parametrize("kept", [0, 1, -1, -2, _LINES.rindex(b"\n", 0, -1) + 1])
@respx.mock
def test_a_trace_cut_short_is_an_error(sort: str, kept: int) -> None:
    """Without its end line a trace never passes for a whole one, wherever it breaks off."""
    answer = httpx.Response(200, stream=_Stream(_LINES[:kept]))
    respx.get(_TRACE_URL).mock(return_value=answer)
    with pytest.raises(CutShortError, match="end line is missing"):
        _read_trace(sort)


@both
@respx.mock
def test_a_connection_lost_in_a_trace_is_an_error(sort: str) -> None:
    """A stream that breaks is not begun again unseen: its first lines were already given."""
    stream = _Stream(_LINES[:200], httpx.ReadError("reset by peer"))
    route = respx.get(_TRACE_URL).mock(return_value=httpx.Response(200, stream=stream))
    with pytest.raises(TransportError, match="lost before the answer was whole"):
        _read_trace(sort)
    assert route.call_count == 1
    assert stream.closed


@both
@respx.mock
def test_opening_a_trace_is_retried(sort: str) -> None:
    """A busy server is asked again; its refusals are read and their connections given back."""
    busy = _Stream(msgspec.json.encode(make_problem("busy", "full")))
    broken = _Stream(b'{"type":', httpx.ReadError("reset by peer"))
    respx.get(_TRACE_URL).mock(
        side_effect=[
            httpx.Response(503, stream=busy),
            httpx.Response(503, stream=broken),
            httpx.ConnectError("refused"),
            httpx.Response(200, stream=_Stream(_LINES)),
        ]
    )
    assert len(_read_trace(sort)) == 5
    assert busy.closed
    assert broken.closed


@both
@respx.mock
def test_a_refused_trace_raises_its_problem(sort: str) -> None:
    """Opening a stream reads problems as every call does, and does not retry what is final."""
    route = respx.get(_TRACE_URL).mock(return_value=_problem("not_found"))
    with pytest.raises(NotFoundError):
        _read_trace(sort)
    assert route.call_count == 1


@respx.mock
def test_pages_are_followed_to_the_last() -> None:
    """Each page is asked with the cursor of the one before and the same filters."""

    def page(request: httpx.Request) -> httpx.Response:
        position = int(request.url.params.get("cursor", "0"))
        lot = LotSummary(lot=f"L{position}", kind="wheel", state="on_hand", site="QM")
        following = str(position + 1) if position < 2 else None
        return _answer(LotPage(lots=[lot], as_of=9, next_cursor=following))

    route = respx.get(f"{_SERVER}/v1/lots").mock(side_effect=page)
    with Client(_SERVER, clock=FakeClock()) as client:
        assert [lot.lot for lot in client.lots(kind="wheel", held=False)] == ["L0", "L1", "L2"]
    asked = [dict(call.request.url.params) for call in route.calls]
    expected = {"kind": "wheel", "held": "false", "limit": "500"}
    assert asked == [expected, expected | {"cursor": "1"}, expected | {"cursor": "2"}]


@respx.mock
def test_the_feed_is_followed() -> None:
    """Following asks on after the last event, waits only when there is no more, and ends never."""
    pages = [
        FeedPage(events=[], next_after=500, as_of=700, more=True),
        FeedPage(events=[], next_after=700, as_of=700, more=False),
    ]
    stop = httpx.Response(403, content=msgspec.json.encode(make_problem("forbidden", "enough")))
    route = respx.get(f"{_SERVER}/v1/events").mock(
        side_effect=[*(_answer(page) for page in pages), stop]
    )
    clock = FakeClock()
    with Client(_SERVER, clock=clock) as client, pytest.raises(ForbiddenError):
        list(client.feed(follow=True, every_s=2.5))
    after = [call.request.url.params.get("after", "0") for call in route.calls]
    assert after == ["0", "500", "700"]
    assert clock.slept == [2.5]


@respx.mock
def test_readiness_is_an_answer_even_if_it_is_no() -> None:
    """A server that is not ready answers 503 with its reason; that is told, not retried."""
    body = {"status": "not_ready", "version": "1", "detail": "migrations wait"}
    route = respx.get(f"{_SERVER}/health/ready").mock(return_value=httpx.Response(503, json=body))
    with Client(_SERVER, clock=FakeClock()) as client:
        assert client.ready().detail == "migrations wait"
    assert route.call_count == 1


@respx.mock
def test_every_question_goes_to_its_address() -> None:
    """Method, path, query and body of each question are those of the operations' catalogue."""
    fine = httpx.Response(200, json={})
    router = respx.route(host="dairy.invalid").mock(return_value=fine)
    ids = str(DRILL)
    with Client(_SERVER, clock=FakeClock()) as client:
        lot = f"/v1/lots/{WHEEL}"
        asked: list[tuple[Callable[[], object], str, str]] = [
            (lambda: client.event(DRILL), "GET", f"/v1/events/{ids}"),
            (lambda: client.lot(WHEEL, as_of=3), "GET", f"{lot}?as_of=3"),
            (
                lambda: client.trace(WHEEL, "back"),
                "GET",
                f"{lot}/trace/back?format=json",
            ),
            (lambda: client.feed_page(7, limit=5), "GET", "/v1/events?after=7&limit=5"),
            (
                lambda: client.discrepancies_page(show="all", lot=WHEEL),
                "GET",
                f"/v1/discrepancies?show=all&lot={WHEEL}",
            ),
            (lambda: client.register_page("room"), "GET", "/v1/registers/room"),
            (lambda: client.register_entry("room", "CAVE-1"), "GET", "/v1/registers/room/CAVE-1"),
            (lambda: client.drills_page(limit=2), "GET", "/v1/drills?limit=2"),
            (lambda: client.drill(ids), "GET", f"/v1/drills/{ids}"),
            (lambda: client.start_drill([MILK], id=DRILL), "POST", "/v1/drills"),
            (client.whoami, "GET", "/v1/key"),
            (client.live, "GET", "/health/live"),
        ]
        for ask, method, target in asked:
            with pytest.raises(UnexpectedAnswerError):
                ask()
            sent = router.calls.last.request
            assert (sent.method, str(sent.url)) == (method, _SERVER + target)
            if method == "POST":
                assert json.loads(sent.content) == {"id": ids, "lots": [MILK]}
                assert sent.headers["content-type"] == "application/json"


@respx.mock
def test_whole_answers_are_typed() -> None:
    """A lot and a whole trace come back as the contract's structs."""
    respx.get(f"{_SERVER}/v1/lots/{WHEEL}").mock(return_value=_answer(LOT))
    respx.get(_TRACE_URL).mock(return_value=_answer(TRACE))
    with Client(_SERVER, clock=FakeClock()) as client:
        assert client.lot(WHEEL) == LOT
        trace = client.trace(MILK, "forward")
    assert isinstance(trace, TraceAnswer)
    assert trace == TRACE


@respx.mock
def test_members_this_version_does_not_know_are_passed_over() -> None:
    """A newer server may say more."""
    body = {"key": "k", "name": "n", "role": "auditor", "shoe_size": 43}
    respx.get(f"{_SERVER}/v1/key").mock(return_value=httpx.Response(200, json=body))
    with Client(_SERVER) as client:
        assert client.whoami() == Whoami(key="k", name="n", role="auditor")


@pytest.mark.parametrize(
    "ask",
    [
        lambda client: client.lot(WHEEL[:-1] + ("0" if WHEEL[-1] != "0" else "1")),
        lambda client: client.origin("../key"),
        lambda client: client.trace(MILK, "sideways"),
        lambda client: client.drill("not-a-uuid"),
        lambda client: client.register_entry("room", "a/b"),
        lambda client: client.register_page("cheeses"),
        lambda client: client.lots_page(kind="gouda"),
        lambda client: client.lots_page(limit=0),
        lambda client: client.feed_page(-1),
        lambda client: client.start_drill([]),
        lambda client: client.start_drill(["QM"]),
    ],
)
@respx.mock
def test_what_cannot_be_right_is_not_sent(ask: Callable[[Client], object]) -> None:
    """A mistyped code or value is found here: the check character needs no server."""
    with Client(_SERVER) as client, pytest.raises(InvalidInputError):
        ask(client)
    assert respx.calls.call_count == 0


@pytest.mark.parametrize(
    "server", ["dairy", "ftp://dairy.invalid", "http://", "http://a.invalid/?x=1", "http://u:p@a.b"]
)
def test_an_address_that_is_none_is_refused_at_once(server: str) -> None:
    """A client is not made for an address that cannot be a server's."""
    with pytest.raises(InvalidInputError):
        Client(server)


@pytest.mark.parametrize("key", ["", "two words", "sch\xf6n", "a\x00b"])
def test_a_key_that_is_none_is_refused_without_showing_it(key: str) -> None:
    """What cannot stand in a header is not a key; the message does not repeat it."""
    with pytest.raises(InvalidInputError) as caught:
        Client(_SERVER, key)
    assert not key or key not in str(caught.value)


def test_a_request_does_not_show_its_key() -> None:
    """A request in a log or a traceback holds neither key nor body."""
    server = FakeServer(key=_KEY)
    with Client(_SERVER, _KEY, transport=server) as client:
        client.weigh(lot=WHEEL, mass_g=1)
    shown = repr(server.requests)
    assert "/v1/events" in shown
    assert _KEY not in shown
    assert WHEEL not in shown
