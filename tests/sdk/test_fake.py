"""The fake server that users test against: what it remembers, judges, and is told to do."""

import asyncio
import threading
from datetime import timedelta
from uuid import UUID

import pytest

from rindline import (
    AsyncClient,
    Client,
    DeadlineError,
    EventMaker,
    NotFoundError,
    RefusedError,
    TransportError,
    UnauthorizedError,
)
from rindline.testing import FakeClock, FakeServer
from rindline_schema.answers import Outcome, Told
from rindline_schema.codes import is_lot_code, kind_of_code
from rindline_schema.events import Event, Input, NewLot, NewWheel, Piece, Weigh
from rindline_schema.registers import Product, Room, Site
from tests.sdk.samples import AT, MILK, MISTYPED, PORTION, TRACE, WHEEL

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
    with _client(server) as client:
        client.receive(product="MILK", supplier="HERD-1", mass_g=1, lot=MILK)
        with pytest.raises(RefusedError, match="lot_exists"):
            client.receive(product="MILK", supplier="HERD-1", mass_g=1, lot=MILK)
        with pytest.raises(RefusedError, match=r"/lot: .*check character.*not_valid"):
            client.tell(Weigh(id=_ID, at=AT, lot=MISTYPED, mass_g=1))
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
