"""Which lots are held: asked of the database from either end, it is what the rules say."""

from random import Random

import pytest
from msgspec.structs import replace

from rindline_schema.events import Cut
from rindline_server.ledger.holds import holds_at
from rindline_server.store import LotFilter, Store, held
from tests.histories.dairy import random_history
from tests.histories.telling import context, empty_world
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
