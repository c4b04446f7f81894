"""Two truths about descent: the rules' edges against networkx on random histories."""

import networkx as nx
import pytest

from rindline_server.ledger.entries import Edge
from rindline_server.ledger.world import World
from tests.histories.dairy import random_history
from tests.histories.telling import replayed


def _edges(world: World) -> set[Edge]:
    return set(world.new_edges) - set(world.void_edges)


def _reached(neighbours: dict[str, set[str]], lot: str) -> set[str]:
    """All lots reached over one or more edges, found without networkx."""
    seen: set[str] = set()
    ahead = [lot]
    while ahead:
        for other in neighbours.get(ahead.pop(), ()):
            if other not in seen:
                seen.add(other)
                ahead.append(other)
    return seen


@pytest.mark.parametrize("seed", [1, 7, 23])
def test_ancestors_and_descendants_equal_networkx(seed: int) -> None:
    """For every lot of a history with blends and portions cut smaller: the ancestors the rules
    keep (``World.parents``) and the descendants by their edges are those networkx finds."""
    history = random_history(seed, 400)
    world = replayed(history, history.events)
    graph = nx.DiGraph()
    graph.add_nodes_from(world.books)
    graph.add_edges_from((edge.parent, edge.child) for edge in _edges(world))
    assert nx.is_directed_acyclic_graph(graph)
    blends = [lot for lot, book in world.books.items() if len(world.parents.get(lot, ())) > 1]
    assert blends
    assert nx.dag_longest_path_length(graph) >= 5
    parents = {lot: set(some) for lot, some in world.parents.items()}
    children: dict[str, set[str]] = {}
    for edge in _edges(world):
        children.setdefault(edge.parent, set()).add(edge.child)
    for lot in graph:
        assert _reached(parents, lot) == nx.ancestors(graph, lot)
        assert _reached(children, lot) == nx.descendants(graph, lot)


@pytest.mark.parametrize("seed", [1, 7, 23])
def test_edges_say_what_went_from_lot_to_lot(seed: int) -> None:
    """What left a lot for others equals the grams on its edges; what a lot weighed when it was
    made is never less than the grams on the edges into it, and the same but for the scale's
    tolerance."""
    history = random_history(seed, 400)
    world = replayed(history, history.events)
    out_g: dict[str, int] = {}
    into_g: dict[str, int] = {}
    for edge in _edges(world):
        out_g[edge.parent] = out_g.get(edge.parent, 0) + edge.mass_g
        into_g[edge.child] = into_g.get(edge.child, 0) + edge.mass_g
    assert out_g
    for lot, book in world.books.items():
        assert book.record.into_g == out_g.get(lot, 0)
        if lot in into_g:
            assert book.record.made_g == into_g[lot]
