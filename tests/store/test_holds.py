"""Which lots are held: asked of the database from either end, it is what the rules say."""

from random import Random

import pytest
from msgspec.structs import replace

from rindline_schema.events import Cut, Hold, Release
from rindline_server.ledger.holds import holds_at
from rindline_server.store import LotFilter, Store, held
from tests.histories.dairy import random_history
from tests.histories.telling import context, empty_world
from tests.service.dairy import Dairy
from tests.store.conftest import Told
from tests.store.mischief import with_mischief
from tests.store.telling import batches, judged, tell

_LATEST_US = 2**62


@pytest.mark.parametrize("seed", [51, 52, 53])
def test_held_lots_are_those_the_rules_hold(
    store: Store, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a history with holds at random on milk, makes and wheels, some lifted for all below
    and some for a few lots: looked up from each lot, looked down from the holds, searched for,
    and judged by the rules over the whole record, the same lots are held."""
    history = random_history(seed, 300)
    now = context(history.until)
    world = empty_world()
    events = with_mischief(history, Random(seed))
    stood = [event for event in events if judged(world, event, now)[0].problem is None]
    for some in batches(stood, 100):
        assert tell(store, some, now) == []
    wanted = {
        lot
        for lot, book in world.books.items()
        if book.entries and holds_at(world, lot, _LATEST_US)
    }
    own = {lot for lot in wanted if world.record(lot).hold_flag}
    assert len(wanted) > len(own) > 0
    with store.reading() as snap:
        ids = snap.lot_ids([lot for lot, book in world.books.items() if book.entries])
        names = {number: lot for lot, number in ids.items()}
        from_lots = {names[i] for i in snap.held_among(list(ids.values()))}
        assert from_lots == wanted
        monkeypatch.setattr(held, "_FEW", 0)
        assert {names[i] for i in snap.held_among(list(ids.values()))} == wanted
        found = snap.find_lots(LotFilter(held=True), None, 10_000)
        assert {row.code for row in found} == wanted
        free = snap.find_lots(LotFilter(held=False), None, 10_000)
        assert {row.code for row in free} == set(ids) - wanted
        light = snap.holds_world(list(ids))
        for lot in ids:
            assert holds_at(light, lot, _LATEST_US) == holds_at(world, lot, _LATEST_US)
            origin = snap.origin(lot)
            assert origin is not None
            assert origin.may_be_held or lot not in wanted


def test_without_holds_nothing_is_looked_for(told: Told) -> None:
    """Before the first hold was put on anything, the rules are told that there is none, and no
    ancestors are loaded; once one stands, they are."""
    cut = next(event for event in told.history.events if isinstance(event, Cut))
    with told.store.reading() as snap:
        before = replace(cut, at=told.history.setup[0].at)
        world = snap.load([before], told.context.tolerance)
        assert world.any_spreading_hold is False
        assert world.parents == {}
        after = replace(cut, at=told.history.until)
        world = snap.load([after], told.context.tolerance)
        assert world.any_spreading_hold is True
        assert world.parents[cut.lot]


def test_holds_lifted_on_the_way_down(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """Milk is put on hold twice, for two reasons, and all made of it is held with it. A wheel
    released of everything is free with its portions; one released of the first reason alone is
    still held for the second, and so is a portion released before the second hold was put on."""
    dairy = Dairy()
    events = dairy.declared()
    milk = dairy.milk(100_000)
    make = dairy.make((milk.lot, 100_000))
    hoop = dairy.hoop(make.lot, [5_000] * 4)
    free, half_free, early, held_wheel = (wheel.lot or "" for wheel in hoop.wheels)
    pieces = [dairy.piece(1_000) for _ in range(4)]
    cuts = [
        dairy.cut(wheel, piece)
        for wheel, piece in zip((free, half_free, early, held_wheel), pieces, strict=True)
    ]
    of_free, of_half_free, of_early, of_held = (piece.lot or "" for piece in pieces)
    first = dairy.event(Hold, lots=[milk.lot], reason="warm milk")
    too_early = dairy.event(Release, lots=[of_early], reason="tested")
    second = dairy.event(Hold, lots=[milk.lot], reason="a dirty tank")
    of_first = dairy.event(Release, lots=[half_free], reason="tested", hold=first.id)
    of_all = dairy.event(Release, lots=[free], reason="tested")
    events += [milk, make, hoop, *cuts, first, too_early, second, of_first, of_all]
    now = context(dairy.time)
    assert tell(store, events, now) == []
    wanted = {
        milk.lot or "",
        make.lot or "",
        half_free,
        early,
        held_wheel,
        of_half_free,
        of_early,
        of_held,
    }
    with store.reading() as snap:
        ids = snap.lot_ids([*wanted, free, of_free])
        assert len(ids) == 10
        light = snap.holds_world(list(ids))
        reasons = {
            lot: sorted({span.reason for _, span in holds_at(light, lot, _LATEST_US)})
            for lot in ids
        }
        assert reasons[of_held] == ["a dirty tank", "warm milk"]
        assert reasons[of_half_free] == reasons[of_early] == ["a dirty tank"]
        assert reasons[of_free] == []
        for few in (2_000, 0):
            monkeypatch.setattr(held, "_FEW", few)
            assert snap.held_among(list(ids.values())) == {ids[lot] for lot in wanted}
    # Lifted where it was put on, the second hold no longer reaches anything.
    last = dairy.event(Release, lots=[milk.lot], reason="the tank was clean", hold=second.id)
    assert tell(store, [last], context(dairy.time)) == []
    with store.reading() as snap:
        still = {ids[lot or ""] for lot in (milk.lot, make.lot, early, held_wheel, of_held)}
        for few in (2_000, 0):
            monkeypatch.setattr(held, "_FEW", few)
            assert snap.held_among(list(ids.values())) == still
