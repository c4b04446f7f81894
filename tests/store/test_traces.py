"""Traces against an independent graph library, now and as of an earlier seq."""

from collections import Counter
from random import Random

import networkx as nx

from rindline_schema.events import Correct
from rindline_server.ledger.world import World
from rindline_server.store import LOT_KINDS, LOT_STATES, LotFilter, ReadTransaction, Store
from rindline_server.store.tracing import Direction
from tests.histories.telling import context, empty_world
from tests.service.dairy import Dairy
from tests.store.conftest import Told
from tests.store.telling import judged, tell

_BOTH: tuple[Direction, ...] = ("back", "forward")


def _graph(world: World) -> "nx.DiGraph[str]":
    """The edges in force, by the pure rules, with grams added up."""
    grams: Counter[tuple[str, str]] = Counter()
    for sign, edges in ((1, world.new_edges), (-1, world.void_edges)):
        for edge in edges:
            grams[edge.parent, edge.child] += sign * edge.mass_g
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(lot for lot, book in world.books.items() if book.entries)
    graph.add_edges_from((*pair, {"mass_g": g}) for pair, g in grams.items() if g)
    return graph


def _steps(graph: "nx.DiGraph[str]", lots: list[str], direction: Direction) -> dict[str, int]:
    """How many steps away each lot is from the nearest of some, as the library sees it."""
    turned = graph if direction == "forward" else graph.reverse()
    found: dict[str, int] = {}
    for lot in lots:
        for other, steps in nx.single_source_shortest_path_length(turned, lot).items():
            found[other] = min(found.get(other, steps), steps)
    return found


def test_traces_are_what_a_graph_library_finds(told: Told) -> None:
    """From every lot, back and forward: the same lots in the same number of steps, the same
    edges with the same grams; and from several lots at once."""
    graph = _graph(told.world)
    with told.store.reading() as snap:
        ids = snap.lot_ids(list(graph))
        names = {number: lot for lot, number in ids.items()}
        assert len(ids) == len(graph) > 100
        starts = [[lot] for lot in graph]
        starts += [Random(n).sample(sorted(graph), 5) for n in range(20)]
        reached = 0
        for lots in starts:
            for direction in _BOTH:
                wanted = _steps(graph, lots, direction)
                start = [ids[lot] for lot in lots]
                found = snap.reach(start, direction)
                order = [(n, number) for number, n in found.steps.items()]
                assert order == sorted(order)
                reached_lots = dict.fromkeys(row.id for row in snap.traced_lots(found.steps))
                assert list(reached_lots) == list(found.steps)
                assert {names[number]: n for number, n in found.steps.items()} == wanted
                edges = {(names[e.parent_id], names[e.child_id]): e.mass_g for e in found.edges()}
                part = graph.subgraph(wanted)
                assert edges == {(p, c): g for p, c, g in part.edges(data="mass_g")}
                reached += len(wanted)
        assert reached > 2000


def test_a_traced_lot_brings_its_holders(told: Told) -> None:
    """Each row of a trace says what the lot is, and who holds how much; a lot with several
    holders has several rows, one after the other, one with none a single row without."""
    most = 0
    with told.store.reading() as snap:
        everything = list(snap.lot_ids(list(told.world.books)).values())
        found: dict[str, list[tuple[str, int]]] = {}
        order: list[str] = []
        for row in snap.traced_lots(snap.reach(everything, "forward").steps):
            record = told.world.books[row.code].record
            assert (LOT_STATES[row.state], row.made_g) == (record.state, record.made_g)
            assert row.product == record.product
            assert row.code not in order or order[-1] == row.code
            order.append(row.code)
            holders = found.setdefault(row.code, [])
            if row.holder is not None and row.mass_g is not None:
                holders.append((row.holder, row.mass_g))
        for lot, holders in found.items():
            record = told.world.books[lot].record
            assert sorted(holders) == sorted((h.holder, h.mass_g) for h in record.holdings)
            most = max(most, len(holders))
    assert most > 1


def test_the_origin_of_every_lot(told: Told) -> None:
    """The short answer has all ancestors, the lot itself first, every edge between them, and for
    each make that is told the very event that made it."""
    graph = _graph(told.world)
    makes = 0
    with told.store.reading() as snap:
        for lot in graph:
            origin = snap.origin(lot)
            assert origin is not None
            assert origin.lots[0].code == origin.lot.code == lot
            assert {a.code: a.steps for a in origin.lots} == _steps(graph, [lot], "back")
            names = {a.id: a.code for a in origin.lots}
            part = graph.subgraph(names.values())
            assert {(names[e.parent_id], names[e.child_id]): e.mass_g for e in origin.edges} == {
                (p, c): g for p, c, g in part.edges(data="mass_g")
            }
            for ancestor in origin.lots:
                record = told.world.books[ancestor.code].record
                assert (ancestor.supplier is not None) == (
                    record.is_born and LOT_KINDS[ancestor.kind] in ("milk", "ingredient")
                )
                if LOT_KINDS[ancestor.kind] == "make" and record.is_born:
                    assert f'"lot":"{ancestor.code}"'.encode() in origin.makes[ancestor.id]
                    makes += 1
        assert snap.origin("QM26001M0001X") is None
    assert makes > 50


def test_traces_as_they_stood(told: Told) -> None:
    """For seqs all along the ledger, before and after corrections: the lots reached, the edges,
    and the entries of each lot are those of a record to which only so much was told."""
    events = [*told.history.setup, *told.history.events]
    corrections = [i for i, event in enumerate(events) if isinstance(event, Correct)]
    assert len(corrections) > 3
    random = Random(3)
    seqs = {0, len(events), *random.sample(range(len(events)), 6)}
    seqs |= {at + step for at in random.sample(corrections, 3) for step in (0, 1)}
    world = empty_world()
    with told.store.reading() as snap:
        for seq in range(len(events) + 1):
            if seq in seqs:
                _assert_stood(snap, world, seq, random)
            if seq < len(events):
                assert judged(world, events[seq], told.context)[0].problem is None


def _assert_stood(snap: ReadTransaction, world: World, seq: int, random: Random) -> None:
    graph = _graph(world)
    books = {lot: book for lot, book in world.books.items() if book.entries}
    ids = snap.lot_ids([*books])
    names = {number: lot for lot, number in ids.items()}
    every = list(snap.lot_ids([*_all_codes(snap)]).values())
    entries = snap.entries_as_of(every, seq)
    assert {lot: set(some) for lot, some in entries.items()} == {
        lot: set(book.entries) for lot, book in books.items()
    }
    for lot in random.sample(sorted(books), min(len(books), 15)):
        for direction in _BOTH:
            found = snap.reach_as_of([ids[lot]], direction, seq)
            wanted = _steps(graph, [lot], direction)
            assert {names[number]: n for number, n in found.steps.items()} == wanted
            part = graph.subgraph(wanted)
            edges = {(names[e.parent_id], names[e.child_id]): e.mass_g for e in found.edges()}
            assert edges == {(p, c): g for p, c, g in part.edges(data="mass_g")}


def _all_codes(snap: ReadTransaction) -> list[str]:
    return [row.code for row in snap.find_lots(LotFilter(), None, 10_000)]


def test_a_corrected_cut_as_it_stood(store: Store) -> None:
    """A cut is told, then corrected: until then the trace has the piece as first told, from then
    on as corrected, and at no seq both."""
    dairy = Dairy()
    setup, wheels = dairy.wheels(1)
    wrong = dairy.cut(wheels[0], dairy.piece(900), dairy.piece(500))
    right = dairy.cut(wheels[0], dairy.piece(800), at=wrong.at)
    correction = dairy.event(Correct, event=wrong.id, reason="misread", replacement=right)
    events = [*dairy.declared(), *setup, wrong, correction]
    assert tell(store, events, context(dairy.time)) == []
    first, second, instead = (piece.lot or "" for piece in (*wrong.pieces, *right.pieces))
    end = len(events)
    with store.reading() as snap:
        ids = snap.lot_ids([wheels[0], first, second, instead])
        assert len(ids) == 4
        names = {number: lot for lot, number in ids.items()}
        wanted = {
            end - 2: {},
            end - 1: {first: 900, second: 500},
            end: {instead: 800},
        }
        for seq, pieces in wanted.items():
            forward = snap.reach_as_of([ids[wheels[0]]], "forward", seq)
            assert {names[child]: g for (_, child), g in forward.grams.items()} == pieces
            for piece in (first, second, instead):
                back = snap.reach_as_of([ids[piece]], "back", seq)
                assert (ids[wheels[0]] in back.steps) == (piece in pieces)
            entries = snap.entries_as_of(list(ids.values()), seq)
            assert {lot for lot, some in entries.items() if some} == {wheels[0], *pieces}
        assert snap.reach([ids[wheels[0]]], "forward").grams == forward.grams
