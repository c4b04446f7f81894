"""The fake server that users test against: what it remembers, judges, and is told to do."""

import asyncio
import threading
from datetime import timedelta
from uuid import UUID

import pytest

from rindline import (
    AsyncClient,
    Client,
    CutShortError,
    DeadlineError,
    EventMaker,
    InvalidInputError,
    NotFoundError,
    RefusedError,
    TransportError,
    UnauthorizedError,
    UnavailableError,
)
from rindline.testing import FakeClock, FakeServer
from rindline_schema.answers import Outcome, Refused, Told
from rindline_schema.codes import is_lot_code, kind_of_code
from rindline_schema.events import Event, Input, Move, NewLot, NewWheel, Piece, Weigh
from rindline_schema.problems import Problem, make_problem
from rindline_schema.registers import Product, Room, Site
from tests.sdk.samples import AT, MILK, ORIGIN, PORTION, TRACE, WHEEL

_ID = UUID("019c0000-0000-7000-8000-00000000000a")
_OTHER = UUID("019c0000-0000-7000-8000-00000000000b")
MAKE_EVENTS = EventMaker(FakeClock())


def _client(server: FakeServer) -> Client:
    return Client(transport=server, clock=FakeClock())


def _told(outcomes: list[Outcome]) -> list[Told]:
    return [outcome for outcome in outcomes if isinstance(outcome, Told)]


def _weighings(count: int) -> list[Event]:
    return [MAKE_EVENTS.weigh(lot=WHEEL, mass_g=number) for number in range(count)]


def test_an_event_told_again_is_one_event() -> None:
    """Same id, same content: the first answer, marked as a replay; nothing is doubled."""
    server = FakeServer()
    with _client(server) as client:
        first = client.weigh(lot=WHEEL, mass_g=2350, id=_ID, at=AT)
        again = client.weigh(lot=WHEEL, mass_g=2350, id=_ID, at=AT)
    assert (first.replay, again.replay, again.seq) == (False, True, first.seq)
    assert len(server.told) == 1


def test_an_id_with_other_content_is_refused() -> None:
    """Same id, other content: refused, and the first stays."""
    server = FakeServer()
    with _client(server) as client:
        client.weigh(lot=WHEEL, mass_g=2350, id=_ID, at=AT)
        with pytest.raises(RefusedError, match="id_reused"):
            client.weigh(lot=WHEEL, mass_g=2351, id=_ID, at=AT)
    assert [recorded.event for recorded in server.told] == [
        Weigh(id=_ID, at=AT, lot=WHEEL, mass_g=2350)
    ]


def test_lots_without_a_code_get_one_of_their_kind() -> None:
    """Every lot that is made gets a well-formed code, its place in the event beside it."""
    server = FakeServer(site="QM")
    with _client(server) as client:
        client.declare(Product(code="CRUST", name="Trimmings", kind="trim"))
        milk = client.receive(product="MILK", supplier="HERD-1", volume_ml=400_000, at=AT)
        vat = client.make(
            product="CURD", vat="VAT-1", inputs=[Input(lot=milk.lots[0].lot, mass_g=412_000)], at=AT
        )
        wheels = client.hoop(
            make=vat.lots[0].lot,
            product="QB-WHEEL",
            room="DRAIN",
            wheels=[NewWheel(mass_g=2400), NewWheel(mass_g=2410)],
            at=AT,
        )
        cut = client.cut(
            lot=wheels.lots[1].lot,
            pieces=[
                Piece(product="QB-WEDGE", mass_g=2000, count=8),
                Piece(product="CRUST", mass_g=400),
            ],
            at=AT,
        )
        blend = client.blend(
            inputs=[Input(lot=cut.lots[1].lot, mass_g=400)],
            outputs=[NewLot(product="CRUMBLE", mass_g=400)],
            at=AT,
        )
    given = [*milk.lots, *vat.lots, *wheels.lots, *cut.lots, *blend.lots]
    assert [kind_of_code(code.lot) for code in given] == [
        "milk",
        "make",
        "wheel",
        "wheel",
        "portion",
        "trim",
        "blend",
    ]
    assert [code.pointer for code in given] == [
        "/lot",
        "/lot",
        "/wheels/0/lot",
        "/wheels/1/lot",
        "/pieces/0/lot",
        "/pieces/1/lot",
        "/outputs/0/lot",
    ]
    assert all(is_lot_code(code.lot) and code.lot.startswith("QM26034") for code in given)
    assert len(set(server.lots)) == 7
    assert server.lots[milk.lots[0].lot].made_g == 412_000


def test_codes_go_on_past_those_that_do_not_exist() -> None:
    """A few serials have no code; a hundred wheels still get a hundred codes."""
    server = FakeServer()
    with _client(server) as client:
        told = client.hoop(
            make=TRACE.lots[1].lot,
            product="QB-WHEEL",
            room="DRAIN",
            wheels=[NewWheel(mass_g=2400)] * 100,
        )
    assert len({given.lot for given in told.lots if is_lot_code(given.lot)}) == 100


def test_a_lot_is_made_once_and_its_code_is_proved() -> None:
    """A code that stands already, or fails its check character, is refused."""
    server = FakeServer()
    wrong = PORTION[:-1] + ("0" if PORTION[-1] != "0" else "1")
    with _client(server) as client:
        client.receive(product="MILK", supplier="HERD-1", mass_g=1, lot=MILK)
        with pytest.raises(RefusedError, match="lot_exists"):
            client.receive(product="MILK", supplier="HERD-1", mass_g=1, lot=MILK)
        with pytest.raises(RefusedError, match="not_valid"):
            client.receive(product="MILK", supplier="HERD-1", mass_g=1, lot=wrong)
    assert len(server.told) == 1


def test_a_correction_marks_what_it_voids_and_makes_new_lots() -> None:
    """The event stays, marked; a second correction of it is refused."""
    server = FakeServer()
    with _client(server) as client:
        client.receive(product="MILK", supplier="HERD-1", mass_g=1, id=_ID)
        right = MAKE_EVENTS.receive(product="MILK", supplier="HERD-2", mass_g=2)
        told = client.correct(event=_ID, reason="wrong herd", replacement=right, id=_OTHER)
        assert [given.pointer for given in told.lots] == ["/replacement/lot"]
        assert client.event(_ID).voided_by == _OTHER
        with pytest.raises(RefusedError, match="already_corrected"):
            client.correct(event=_ID, reason="once more")


def test_lots_are_found_and_paged() -> None:
    """Filters and pages work as at a server, over more pages than one."""
    server = FakeServer()
    with _client(server) as client:
        make = client.make(product="CURD", vat="VAT-1", inputs=[Input(lot=MILK, mass_g=9)], at=AT)
        for day in range(3):
            client.hoop(
                make=make.lots[0].lot,
                product="QB-WHEEL",
                room="DRAIN",
                wheels=[NewWheel(mass_g=2400)] * 400,
                at=AT + timedelta(days=day),
            )
        assert len(list(client.lots())) == 1201
        assert len(list(client.lots(kind="wheel"))) == 1200
        second = (AT + timedelta(days=1)).date()
        found = list(client.lots(made_from=second, made_to=second, site="QM", held=False))
        assert len(found) == 400
        assert {lot.made_at for lot in found} == {AT + timedelta(days=1)}
        assert list(client.lots(held=True)) == []
        assert [lot.lot for lot in client.lots(prefix=found[7].lot)] == [found[7].lot]
        page = client.lots_page(limit=5)
        assert (len(page.lots), page.next_cursor is None) == (5, False)
        with pytest.raises(NotFoundError):
            client.lot(PORTION)


def test_the_feed_gives_what_was_told() -> None:
    """In order, by pages, and from any number on."""
    server = FakeServer()
    events = _weighings(1203)
    with _client(server) as client:
        client.tell_many(events)
        assert [recorded.event for recorded in client.feed()] == events
        assert [recorded.seq for recorded in client.feed(after=1201)] == [1202, 1203]
        assert client.event(events[4].id).seq == 5
        with pytest.raises(NotFoundError):
            client.event(_OTHER)


def test_registers_hold_the_newest_declaration() -> None:
    """Entries by code; a later declaration of a code takes the place of the earlier."""
    server = FakeServer()
    with _client(server) as client:
        client.declare(Site(code="QM", name="Dairy"))
        client.declare(Room(code="CAVE-1", name="Old name", site="QM"))
        client.declare(Room(code="CAVE-1", name="North cave", site="QM"))
        client.declare(Room(code="CAVE-0", name="South cave", site="QM"))
        assert [entry.entry.name for entry in client.register("room")] == [
            "South cave",
            "North cave",
        ]
        assert client.register_entry("site", "QM").entry == Site(code="QM", name="Dairy")
        with pytest.raises(NotFoundError):
            client.register_entry("room", "QM")


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
    lots = [WHEEL] * 1000
    events = [MAKE_EVENTS.move(lots=lots, room="CAVE-1") for _ in range(900)]
    with _client(server) as client:
        assert len(client.tell_many(events)) == 900
    sizes = [len(request.body or b"") for request in server.requests]
    assert len(sizes) == 2
    assert all(size <= 8 * 1024 * 1024 for size in sizes)
    assert all(isinstance(recorded.event, Move) for recorded in server.told)


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


def test_only_its_key_is_taken() -> None:
    """A fake with a key refuses all others, so that a forgotten key shows in a test."""
    server = FakeServer(key="rl_right")
    with Client(key="rl_right", transport=server) as client:
        assert client.whoami().role == "manager"
    with Client(transport=server) as client, pytest.raises(UnauthorizedError):
        client.whoami()


def test_threads_share_a_client_and_a_fake() -> None:
    """Eight threads tell at once: every event once, the numbers without a gap."""
    server = FakeServer()
    client = Client(transport=server)
    threads = [
        threading.Thread(target=lambda: [client.weigh(lot=WHEEL, mass_g=n) for n in range(25)])
        for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    client.close()
    assert [recorded.seq for recorded in server.told] == list(range(1, 201))
    assert len({recorded.event.id for recorded in server.told}) == 200


def test_the_quiet_questions_have_quiet_answers() -> None:
    """No discrepancies, no drills, alive and ready."""
    with _client(FakeServer()) as client:
        assert list(client.discrepancies()) == []
        assert list(client.drills()) == []
        assert client.live().status == client.ready().status == "ok"


def test_the_async_client_asks_the_same_fake() -> None:
    """Paging, telling, following and closing work awaited."""
    server = FakeServer()
    server.lose_next_answer()

    async def work() -> tuple[int, int, int]:
        async with AsyncClient(transport=server, clock=FakeClock()) as client:
            outcomes = await client.tell_many(_weighings(1500))
            await client.declare(Site(code="QM", name="Dairy"))
            await client.receive(product="MILK", supplier="HERD-1", mass_g=1)
            lots = [lot async for lot in client.lots()]
            entries = [entry async for entry in client.register("site")]
            async for recorded in client.feed(follow=True):
                if recorded.seq == 1502:
                    break
            assert [found async for found in client.discrepancies()] == []
            assert [drill async for drill in client.drills()] == []
            assert _told(await client.try_events(_weighings(1)))[0].seq == 1503
            return len(_told(outcomes)), len(lots), len(entries)

    assert asyncio.run(work()) == (1500, 1, 1)


def test_the_deadline_holds_with_a_fake() -> None:
    """A test of a station that is offline takes no real time."""
    server = FakeServer()
    server.lose_next_request(times=1000)
    clock = FakeClock(luck=0.99)
    with (
        Client(transport=server, clock=clock) as client,
        pytest.raises((DeadlineError, TransportError)),
    ):
        client.weigh(lot=WHEEL, mass_g=1)
    assert 10 < clock.passed_s <= 90
