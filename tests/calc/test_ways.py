"""Ways down a family tree: those that a plain recursion finds, counted without finding them."""

from hypothesis import given
from hypothesis import strategies as st

from rindline_server.calc.ways import MOST_COUNTED, ways_down


def _by_recursion(
    lot: int, parents: dict[int, list[int]], firsts: frozenset[int]
) -> list[list[int]]:
    if lot in firsts:
        return [[lot]]
    return [
        [*way, lot]
        for parent in parents.get(lot, [])
        for way in _by_recursion(parent, parents, firsts)
    ]


@st.composite
def _trees(draw: st.DrawFn) -> tuple[dict[int, list[int]], frozenset[int]]:
    lots = draw(st.integers(1, 7))
    parents = {
        lot: draw(st.lists(st.integers(lot + 1, lots), max_size=3, unique=True))
        for lot in range(lots)
    }
    firsts = draw(st.frozensets(st.integers(0, lots)))
    return parents, firsts


@given(_trees(), st.integers(0, 5))
def test_the_ways_are_those_of_a_plain_recursion(
    tree: tuple[dict[int, list[int]], frozenset[int]], limit: int
) -> None:
    """In any tree, the first few ways and the count of all are those found one by one."""
    parents, firsts = tree
    every = _by_recursion(0, parents, firsts)
    assert ways_down(0, parents, firsts, limit) == (every[:limit], len(every))


def test_a_blend_of_blends_does_not_explode() -> None:
    """40 steps of two lots, each of both before: 2^40 ways are counted, the first two given."""
    parents = {n: [2 * (n // 2) + 2, 2 * (n // 2) + 3] for n in range(80)}
    ways, count = ways_down(0, parents, frozenset({80, 81}), 2)
    assert count == 2**40
    assert [len(way) for way in ways] == [41, 41]
    deeper = {n: [2 * (n // 2) + 2, 2 * (n // 2) + 3] for n in range(200)}
    assert ways_down(0, deeper, frozenset({200, 201}), 1)[1] == MOST_COUNTED


def test_a_portion_cut_smaller_thousands_of_times_has_its_one_way() -> None:
    """A chain of 5,000 portions, deeper than any recursion of Python would go."""
    chain = {n: [n + 1] for n in range(5_000)}
    ways, count = ways_down(0, chain, frozenset({5_000}), 100)
    assert (count, ways[0][0], ways[0][-1], len(ways[0])) == (1, 5_000, 0, 5_001)


def test_a_lot_among_its_own_ancestors_is_gone_through_once() -> None:
    """0 of 1, 1 of 0 and of wheel 2, as no record should say: one way, and it ends."""
    assert ways_down(0, {0: [1], 1: [0, 2]}, frozenset({2}), 9) == ([[2, 1, 0]], 1)
