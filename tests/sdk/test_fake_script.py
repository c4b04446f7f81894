"""Batches, and failures on demand, told to the fake server."""

import asyncio
from uuid import UUID

import pytest

from rindline import (
    AsyncClient,
    Client,
    CutShortError,
    EventMaker,
    InvalidInputError,
    RefusedError,
    TransportError,
    UnavailableError,
)
from rindline.testing import FakeClock, FakeServer
from rindline_schema.answers import Outcome, Refused, Told
from rindline_schema.events import Event
from rindline_schema.problems import Problem, make_problem
from tests.sdk.samples import MILK, ORIGIN, PORTION, TRACE, WHEEL

_ID = UUID("019c0000-0000-7000-8000-00000000000a")
_OTHER = UUID("019c0000-0000-7000-8000-00000000000b")
MAKE_EVENTS = EventMaker(FakeClock())


def _client(server: FakeServer) -> Client:
    return Client(transport=server, clock=FakeClock())


def _told(outcomes: list[Outcome]) -> list[Told]:
    return [outcome for outcome in outcomes if isinstance(outcome, Told)]


def _weighings(count: int) -> list[Event]:
    return [MAKE_EVENTS.weigh(lot=WHEEL, mass_g=number) for number in range(count)]


def test_many_events_go_in_batches_with_an_outcome_each() -> None:
    """2,500 events: three requests, 2,500 outcomes in their order, progress after each batch."""
    server = FakeServer()
    events = _weighings(2500)
    seen: list[int] = []
    with _client(server) as client:
        outcomes = client.tell_many((event for event in events), progress=seen.append)
    assert [told.id for told in _told(outcomes)] == [event.id for event in events]
    assert seen == [1000, 2000, 2500]
    assert [request.path for request in server.requests] == ["/v1/events/batch"] * 3


def test_large_events_make_smaller_batches() -> None:
    """A batch stays under the size the server takes (8 MiB), whatever the number of events."""
    server = FakeServer()
    # Characters of four bytes each make the longest notes there are: 16 kB an event.
    long = "\N{CHEESE WEDGE}" * 2000
    make = EventMaker(FakeClock())
    events = [make.weigh(lot=WHEEL, mass_g=n, note=long, override=long) for n in range(900)]
    with _client(server) as client:
        assert len(client.tell_many(events)) == 900
    sizes = [len(request.body or b"") for request in server.requests]
    assert len(sizes) == 2
    assert all(size <= 8 * 1024 * 1024 for size in sizes)
    assert [recorded.event for recorded in server.told] == events


def test_no_events_need_no_request() -> None:
    """Telling nothing asks nothing."""
    server = FakeServer()
    with _client(server) as client:
        assert client.tell_many([]) == []
    assert server.requests == []


def test_all_or_nothing_records_none_if_any_is_refused() -> None:
    """One refused event of a batch keeps the others out, and each is told why."""
    server = FakeServer()
    good, bad = _weighings(2)
    server.refuse_when(lambda event: _held() if event.id == bad.id else None)
    with _client(server) as client:
        outcomes = client.tell_many([good, bad], all_or_nothing=True)
        codes = [outcome.problem.code for outcome in outcomes if isinstance(outcome, Refused)]
        assert codes == ["not_told", "lot_held"]
        assert server.told == []
        assert [type(outcome) for outcome in client.tell_many([good, bad])] == [Told, Refused]


def test_all_or_nothing_does_not_part_what_belongs_together() -> None:
    """More than fits a batch is refused before anything is sent."""
    server = FakeServer()
    with _client(server) as client:
        with pytest.raises(InvalidInputError, match="at most 1000 events"):
            client.tell_many(_weighings(1001), all_or_nothing=True)
        with pytest.raises(InvalidInputError, match="at most 1000 events"):
            client.try_events(_weighings(1001))
    assert server.requests == []


def test_trying_records_nothing() -> None:
    """A trial answers as telling would, and leaves no trace."""
    server = FakeServer()
    make = MAKE_EVENTS.receive(product="MILK", supplier="HERD-1", mass_g=1, lot=MILK)
    with _client(server) as client:
        outcomes = client.try_events([make, make])
        assert [told.replay for told in _told(outcomes)] == [False, True]
        assert (server.told, server.lots) == ([], {})
        assert client.tell(make).replay is False


def _held() -> Problem:
    return make_problem("lot_held", "it is on hold", lot=WHEEL)


def test_a_lost_answer_is_asked_for_again() -> None:
    """The event was recorded, the answer lost: the retry gets the first answer as a replay."""
    server = FakeServer()
    server.lose_next_answer()
    with _client(server) as client:
        told = client.weigh(lot=WHEEL, mass_g=1)
    assert (told.replay, told.seq) == (True, 1)
    assert (len(server.told), len(server.requests)) == (1, 2)


def test_a_lost_request_is_sent_again() -> None:
    """The request never arrived: the retry is the first that does."""
    server = FakeServer()
    server.lose_next_request(times=2)
    clock = FakeClock(luck=0.5)
    with Client(transport=server, clock=clock) as client:
        told = client.weigh(lot=WHEEL, mass_g=1)
    assert (told.replay, len(server.requests)) == (False, 1)
    assert clock.slept == pytest.approx([0.1, 0.2])


def test_a_busy_server_is_waited_for() -> None:
    """503 with Retry-After, as often as scripted, then an answer."""
    server = FakeServer()
    server.refuse_next(make_problem("busy", "full"), retry_after_s=4, times=2)
    clock = FakeClock(luck=0.0)
    with Client(transport=server, clock=clock) as client:
        client.weigh(lot=WHEEL, mass_g=1)
    assert clock.slept == [4.0, 4.0]


def test_a_scripted_refusal_is_raised() -> None:
    """Any problem of the catalogue can be had for a test."""
    server = FakeServer()
    server.refuse_next(make_problem("not_enough", "300 g are asked of it", left_g=120))
    with _client(server) as client, pytest.raises(RefusedError) as caught:
        client.weigh(lot=WHEEL, mass_g=300)
    assert caught.value.problem.left_g == 120
    assert server.told == []


def test_an_error_in_the_middle_says_how_far_it_came() -> None:
    """Of three batches the second fails: the error notes what was told, and telling all again
    ends with each event recorded once.
    """
    server = FakeServer()
    events = _weighings(2500)
    with _client(server) as client:

        def fail_next(told: int) -> None:
            if told == 1000:
                server.refuse_next(make_problem("busy", "full"), times=8)

        with pytest.raises(UnavailableError) as caught:
            client.tell_many(events, progress=fail_next)
        assert "1000 events" in caught.value.__notes__[0]
        outcomes = _told(client.tell_many(events))
    assert [told.replay for told in outcomes] == [True] * 1000 + [False] * 1500
    assert len(server.told) == 2500


def test_a_trace_can_be_scripted_and_cut() -> None:
    """A scripted trace is given whole or line by line; a cut stream is an error at both clients."""
    server = FakeServer()
    server.answer("trace", TRACE)
    with _client(server) as client:
        assert client.trace(MILK, "forward") == TRACE
        assert len(list(client.trace_lines(MILK, "forward"))) == 5
        server.cut_next_stream(after_lines=2)
        with pytest.raises(TransportError, match="broke off"):
            list(client.trace_lines(MILK, "forward"))

    async def read() -> int:
        async with AsyncClient(transport=server) as client:
            return len([line async for line in client.trace_lines(MILK, "forward")])

    assert asyncio.run(read()) == 5
    assert issubclass(CutShortError, TransportError)


def test_what_it_cannot_work_out_must_be_said() -> None:
    """Origins are not invented: the test says which answer is wanted, of the right type."""
    server = FakeServer()
    with _client(server) as client:
        with pytest.raises(NotImplementedError, match=r"answer\('origin'"):
            client.origin(PORTION)
        with pytest.raises(ValueError, match="origin"):
            server.answer("origin", TRACE)
        with pytest.raises(ValueError, match="oracle"):
            server.answer("oracle", ORIGIN)
        server.answer("origin", ORIGIN)
        assert client.origin(PORTION) == ORIGIN
