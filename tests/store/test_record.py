"""The record in the database: what the pure rules say, whatever the batches and the order."""

from collections import Counter
from random import Random

import pytest

from rindline_server.ledger.fold import fold
from rindline_server.ledger.world import World
from rindline_server.store import HOLDER_SORTS, LOT_STATES, Store
from tests.histories.dairy import random_history
from tests.histories.telling import context, empty_world
from tests.histories.telling import tell_until_all_stand as tell_rules_until_all_stand
from tests.store.conftest import Told
from tests.store.databases import emptied, table_rows
from tests.store.mischief import with_mischief
from tests.store.telling import (
    batches,
    judged,
    tell,
    tell_for_verdicts,
    tell_until_all_stand,
)


def _loaded(told: Told) -> World:
    """All of the record, as the rules would get it to judge with."""
    with told.store.reading() as snap:
        return snap.load([*told.history.events], told.context.tolerance)


def test_what_is_loaded_is_what_the_rules_made(told: Told) -> None:
    """Books, corrections, links, serials and registers come back from the database as they
    left the rules, to the last field."""
    world, loaded = told.world, _loaded(told)
    assert len(loaded.books) > 100
    for lot, book in world.books.items():
        if book.entries and loaded.books[lot].is_whole:
            assert loaded.books[lot].record == book.record, lot
            assert set(loaded.books[lot].entries) == set(book.entries), lot
    assert {lot for lot, book in world.books.items() if book.entries} <= set(loaded.books)
    assert loaded.registers == world.registers
    assert {k: v for k, v in loaded.voids.items() if k in world.voids} == world.voids
    assert {k: v for k, v in loaded.links.items() if v} == {
        k: v for k, v in world.links.items() if v
    }
    for lot, parents in world.parents.items():
        if parents and lot in loaded.parents:
            assert sorted(loaded.parents[lot]) == sorted(parents)
    assert len(loaded.parents) > 100


def test_rows_of_lots_say_what_the_record_says(told: Told) -> None:
    """The rows that searches and traces read agree with the fold: state, masses, holders, holds,
    discrepancies; and each lot's grams add up."""
    checked = 0
    with told.store.reading() as snap:
        for lot, book in told.world.books.items():
            record = book.record
            row = snap.lot(lot)
            if not book.entries and row is None:
                continue
            assert row is not None
            assert LOT_STATES[row.state] == record.state
            assert (row.product, row.born_us, row.made_g) == (
                record.product,
                record.born_us,
                record.made_g,
            )
            held = [(HOLDER_SORTS[h.sort], h.holder, h.mass_g) for h in snap.holdings([row.id])]
            assert sorted(held) == sorted((h.where, h.holder, h.mass_g) for h in record.holdings)
            assert row.ours_g == sum(g for sort, _, g in held if sort != "partner")
            if record.is_born:
                assert row.made_g == sum(g for *_, g in held) + sum(row[14:]), lot
            assert row.held == record.hold_flag
            found = snap.discrepancies(None, 1000, lots=[row.id])
            assert {d.kind for d in found} == {f.kind for f in record.found}
            checked += 1
    assert checked > 100


def test_batches_make_no_difference(told: Told, database_url: str) -> None:
    """One event a commit, or all in one: the same tables, numbers of lots and serials included."""
    before = table_rows(database_url)
    assert sum(map(len, before.values())) > 1000
    for size in (1, 9, 1000):
        emptied(database_url)
        for some in batches([*told.history.setup, *told.history.events], size):
            assert tell(told.store, some, told.context) == []
        after = table_rows(database_url)
        assert [t for t, rows in before.items() if rows != after[t]] == [], size


@pytest.mark.parametrize("size", [1, 60])
@pytest.mark.parametrize("seed", [31, 104, 114])
def test_verdicts_are_those_of_the_whole_record(store: Store, seed: int, size: int) -> None:
    """The rules see only what was loaded of the record, and judge each event as they do when
    they see all of it: the same refusals, with the same grams left, and the same warnings."""
    history = random_history(seed, 400)
    now = context(history.until)
    events = with_mischief(history, Random(seed))
    whole = empty_world()
    wanted = [judged(whole, event, now)[0] for event in events]
    refusals = Counter(v.problem.code for v in wanted if v.problem is not None)
    assert len(refusals) > 9, refusals
    assert len({w.code for v in wanted for w in v.warnings}) > 3
    found = [
        verdict for some in batches(events, size) for verdict in tell_for_verdicts(store, some, now)
    ]
    for one, other in zip(found, wanted, strict=True):
        assert one == other
    with store.reading() as snap:
        assert snap.as_of == sum(v.problem is None for v in wanted) > 300


@pytest.mark.slow
@pytest.mark.parametrize("order", range(10))
def test_any_order_ends_in_the_same_record(store: Store, order: int) -> None:
    """A history that could have happened, told in any order and with repeats, some of it refused
    until what it rests on is told: the record in the database ends the same, byte for byte."""
    history = random_history(21, 500)
    now = context(history.until)
    world, _ = tell_rules_until_all_stand(history, history.events)
    random = Random(order)
    shuffled = [*history.events, *random.sample(history.events, len(history.events) // 5)]
    random.shuffle(shuffled)
    assert tell_until_all_stand(store, [*history.setup, *shuffled], now, 60) > 0
    with store.reading() as snap:
        codes = [lot for lot, book in world.books.items() if book.entries]
        ids = snap.lot_ids(codes)
        assert len(ids) == len(codes) > 100
        entries = snap.entries_as_of(list(ids.values()), snap.as_of)
        stands = snap.load([*history.events], now.tolerance)
        edges = snap.reach(list(ids.values()), "forward").grams
    for lot in codes:
        book = world.books[lot]
        assert fold(entries[lot], now.tolerance) == book.record, lot
        assert set(entries[lot]) == set(book.entries), lot
    wanted: Counter[tuple[int, int]] = Counter()
    for sign, some in ((1, world.new_edges), (-1, world.void_edges)):
        for edge in some:
            wanted[ids[edge.parent], ids[edge.child]] += sign * edge.mass_g
    assert edges == {pair: mass_g for pair, mass_g in wanted.items() if mass_g}
    assert stands.registers == world.registers
    assert stands.voids == world.voids
