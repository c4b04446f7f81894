"""Each question at its address; pages, the feed, and what is not sent at all."""

import json
from collections.abc import Callable

import httpx
import msgspec
import pytest
import respx

from rindline import (
    Client,
    ForbiddenError,
    InvalidInputError,
    UnexpectedAnswerError,
)
from rindline.testing import FakeClock, FakeServer
from rindline_schema.answers import (
    FeedPage,
    LotPage,
    LotSummary,
    TraceAnswer,
    Whoami,
)
from rindline_schema.problems import make_problem
from tests.sdk.http_answers import KEY, SERVER, TRACE_URL, answered
from tests.sdk.samples import DRILL, LOT, MILK, TRACE, WHEEL


@respx.mock
def test_pages_are_followed_to_the_last() -> None:
    """Each page is asked with the cursor of the one before and the same filters."""

    def page(request: httpx.Request) -> httpx.Response:
        position = int(request.url.params.get("cursor", "0"))
        lot = LotSummary(lot=f"L{position}", kind="wheel", state="on_hand", site="QM")
        following = str(position + 1) if position < 2 else None
        return answered(LotPage(lots=[lot], as_of=9, next_cursor=following))

    route = respx.get(f"{SERVER}/v1/lots").mock(side_effect=page)
    with Client(SERVER, clock=FakeClock()) as client:
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
    route = respx.get(f"{SERVER}/v1/events").mock(
        side_effect=[*(answered(page) for page in pages), stop]
    )
    clock = FakeClock()
    with Client(SERVER, clock=clock) as client, pytest.raises(ForbiddenError):
        list(client.feed(follow=True, every_s=2.5))
    after = [call.request.url.params.get("after", "0") for call in route.calls]
    assert after == ["0", "500", "700"]
    assert clock.slept == [2.5]


@respx.mock
def test_readiness_is_an_answer_even_if_it_is_no() -> None:
    """A server that is not ready answers 503 with its reason; that is told, not retried."""
    body = {"status": "not_ready", "version": "1", "detail": "migrations wait"}
    route = respx.get(f"{SERVER}/health/ready").mock(return_value=httpx.Response(503, json=body))
    with Client(SERVER, clock=FakeClock()) as client:
        assert client.ready().detail == "migrations wait"
    assert route.call_count == 1


@respx.mock
def test_every_question_goes_to_its_address() -> None:
    """Method, path, query and body of each question are those of the operations' catalogue."""
    fine = httpx.Response(200, json={})
    router = respx.route(host="dairy.invalid").mock(return_value=fine)
    ids = str(DRILL)
    with Client(SERVER, clock=FakeClock()) as client:
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
            assert (sent.method, str(sent.url)) == (method, SERVER + target)
            if method == "POST":
                assert json.loads(sent.content) == {"id": ids, "lots": [MILK]}
                assert sent.headers["content-type"] == "application/json"


@respx.mock
def test_whole_answers_are_typed() -> None:
    """A lot and a whole trace come back as the contract's structs."""
    respx.get(f"{SERVER}/v1/lots/{WHEEL}").mock(return_value=answered(LOT))
    respx.get(TRACE_URL).mock(return_value=answered(TRACE))
    with Client(SERVER, clock=FakeClock()) as client:
        assert client.lot(WHEEL) == LOT
        trace = client.trace(MILK, "forward")
    assert isinstance(trace, TraceAnswer)
    assert trace == TRACE


@respx.mock
def test_members_this_version_does_not_know_are_passed_over() -> None:
    """A newer server may say more."""
    body = {"key": "k", "name": "n", "role": "auditor", "shoe_size": 43}
    respx.get(f"{SERVER}/v1/key").mock(return_value=httpx.Response(200, json=body))
    with Client(SERVER) as client:
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
    with Client(SERVER) as client, pytest.raises(InvalidInputError):
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
        Client(SERVER, key)
    assert not key or key not in str(caught.value)


def test_a_request_does_not_show_its_key() -> None:
    """A request in a log or a traceback holds neither key nor body."""
    server = FakeServer(key=KEY)
    with Client(SERVER, KEY, transport=server) as client:
        client.weigh(lot=WHEEL, mass_g=1)
    shown = repr(server.requests)
    assert "/v1/events" in shown
    assert KEY not in shown
    assert WHEEL not in shown
