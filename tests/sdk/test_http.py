"""The clients over HTTP as httpx speaks it: retries, deadlines, problems, gzip."""

import gzip
import ssl

import httpx
import msgspec
import pytest
import respx

from rindline import (
    Client,
    DeadlineError,
    ForbiddenError,
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
from rindline.testing import FakeClock
from rindline.transport import HttpTransport
from rindline_schema.problems import Fault, make_problem
from tests.sdk.http_answers import (
    KEY,
    ORIGIN_URL,
    SERVER,
    Stream,
    answered,
    ask_origin,
    both,
    refused,
)
from tests.sdk.samples import ORIGIN, WHEEL


@both
@respx.mock
def test_a_request_carries_key_and_name(sort: str) -> None:
    """The key goes as a bearer token; the server's log can tell an SDK from a browser."""
    route = respx.get(ORIGIN_URL).mock(return_value=answered(ORIGIN))
    assert ask_origin(sort, FakeClock()) == ORIGIN
    sent = route.calls.last.request
    assert sent.headers["authorization"] == f"Bearer {KEY}"
    assert sent.headers["user-agent"].startswith("rindline/")
    assert sent.headers["accept"] == "application/json"
    assert "gzip" in sent.headers["accept-encoding"]


@both
@respx.mock
def test_passing_faults_are_overcome(sort: str) -> None:
    """A refused connection, a lost answer, a busy server, a proxy's 502: the fifth try counts."""
    respx.get(ORIGIN_URL).mock(
        side_effect=[
            httpx.ConnectError("refused"),
            httpx.RemoteProtocolError("Server disconnected without sending a response."),
            refused("busy", **{"retry-after": "3"}),
            httpx.Response(502, text="<html>"),
            answered(ORIGIN),
        ]
    )
    clock = FakeClock(luck=0.5)
    assert ask_origin(sort, clock) == ORIGIN
    # Full jitter: half of 0.2, 0.4, 0.8, 1.6; on top of the 3 s the server asked for.
    assert clock.slept == pytest.approx([0.1, 0.2, 3.4, 0.8])


@both
@respx.mock
def test_the_deadline_ends_the_tries(sort: str) -> None:
    """A server that stays away is given up in time, with what went wrong last as the cause."""
    respx.get(ORIGIN_URL).mock(side_effect=httpx.ConnectError("refused"))
    clock = FakeClock(luck=0.9)
    with pytest.raises(DeadlineError, match="No answer within the 4 s") as caught:
        ask_origin(sort, clock, RetryPolicy(deadline_s=4, max_attempts=1000))
    assert clock.passed_s <= 4
    assert isinstance(caught.value.__cause__, TransportError)
    assert f"{SERVER} cannot be reached" in str(caught.value.__cause__)


@both
@respx.mock
def test_the_time_limit_of_an_attempt_reaches_httpx(sort: str) -> None:
    """Each attempt is given its own limit, the last one only what the deadline leaves."""
    route = respx.get(ORIGIN_URL).mock(side_effect=httpx.ReadTimeout("slow"))
    policy = RetryPolicy(max_attempts=2, attempt_timeout_s=7, deadline_s=7.1, base_s=0.2)
    with pytest.raises(TransportError, match=r"did not answer within 7 s"):
        ask_origin(sort, FakeClock(luck=0.5), policy)
    limits = [call.request.extensions["timeout"]["read"] for call in route.calls]
    assert limits == pytest.approx([7, 7])


@both
@respx.mock
def test_an_answer_that_drips_is_given_up(sort: str) -> None:
    """Each wait is short, yet the answer as a whole may not take longer than an attempt may."""
    clock = FakeClock()
    body = msgspec.json.encode(ORIGIN)
    drips = [body[i : i + 20] for i in range(0, len(body), 20)]
    stream = Stream(*drips, between=lambda: clock.sleep(4))
    respx.get(ORIGIN_URL).mock(return_value=httpx.Response(200, stream=stream))
    with pytest.raises(TransportError, match="not whole within 10 s"):
        ask_origin(sort, clock, RetryPolicy(max_attempts=1, attempt_timeout_s=10))
    assert clock.passed_s < 20
    assert stream.closed


def test_a_certificate_that_fails_is_not_tried_again() -> None:
    """A wrong certificate stays wrong, and may be somebody else's server."""
    tried = []

    def fail(request: httpx.Request) -> httpx.Response:
        tried.append(request)
        raise httpx.ConnectError("failed", request=request) from ssl.SSLCertVerificationError()

    transport = HttpTransport(SERVER, client=httpx.Client(transport=httpx.MockTransport(fail)))
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
    respx.get(ORIGIN_URL).mock(return_value=refused(code))
    with pytest.raises(error) as caught:
        ask_origin(sort, FakeClock(), RetryPolicy(max_attempts=2))
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
    respx.post(f"{SERVER}/v1/events").mock(return_value=answered(problem, 409))
    with Client(SERVER, clock=FakeClock()) as client, pytest.raises(RefusedError) as caught:
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
        respx.get(ORIGIN_URL).mock(return_value=answer)
        with pytest.raises(error, match="address"):
            ask_origin(sort, FakeClock(), RetryPolicy(max_attempts=1))


@both
@respx.mock
def test_a_redirect_takes_the_key_nowhere(sort: str) -> None:
    """The key goes to the address that was given and to no other."""
    respx.get(ORIGIN_URL).mock(
        return_value=httpx.Response(307, headers={"location": "http://elsewhere.invalid/"})
    )
    elsewhere = respx.get("http://elsewhere.invalid/").mock(return_value=answered(ORIGIN))
    with pytest.raises(UnexpectedAnswerError):
        ask_origin(sort, FakeClock())
    assert not elsewhere.called


@both
@respx.mock
def test_a_compressed_answer_is_unpacked(sort: str) -> None:
    """Answers may come with gzip, as asked for."""
    packed = gzip.compress(msgspec.json.encode(ORIGIN))
    respx.get(ORIGIN_URL).mock(
        return_value=httpx.Response(200, headers={"content-encoding": "gzip"}, content=packed)
    )
    assert ask_origin(sort, FakeClock()) == ORIGIN


@both
@respx.mock
def test_a_spoilt_compressed_answer_is_asked_for_again(sort: str) -> None:
    """Damage on the way is a fault of the connection, not of the server."""
    headers = {"content-encoding": "gzip"}
    respx.get(ORIGIN_URL).mock(
        side_effect=[
            httpx.Response(200, headers=headers, stream=Stream(b"\x1f\x8bnot at all")),
            answered(ORIGIN),
        ]
    )
    assert ask_origin(sort, FakeClock()) == ORIGIN
