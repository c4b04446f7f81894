"""The ways down a family tree from its first lots to one lot, of which there may be very many."""

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

__all__ = ["MOST_COUNTED", "ways_down"]

MOST_COUNTED = 10**15
"""Ways are counted up to here: blends of blends of blends have more than anyone could read."""


def ways_down(
    lot: int, parents: Mapping[int, Sequence[int]], firsts: frozenset[int], limit: int
) -> tuple[list[list[int]], int]:
    """Give the first ``limit`` ways from one of ``firsts`` to the lot, and how many there are.

    A way is the list of its lots, both ends included; it begins at the first lot met going back.
    Where a lot has several parents, the ways go in their order. The work is that of the tree's
    edges and of what is given, however many ways there are. A lot that would be among its own
    ancestors is not gone through twice.
    """
    tree = _led_to(lot, parents, firsts)
    ways: list[list[int]] = []
    back = [lot]
    branches = [iter(tree.leading[lot])]
    if lot in firsts:
        return [[lot]][:limit], 1
    while branches and len(ways) < limit:
        parent = next(branches[-1], None)
        if parent is None:
            branches.pop()
            back.pop()
        elif parent in firsts:
            ways.append([parent, *reversed(back)])
        else:
            back.append(parent)
            branches.append(iter(tree.leading[parent]))
    return ways, tree.counts[lot]


class _Tree(NamedTuple):
    """By lot: how many ways lead to it, and which of its parents any of them come through."""

    counts: dict[int, int]
    leading: dict[int, list[int]]


def _led_to(lot: int, parents: Mapping[int, Sequence[int]], firsts: frozenset[int]) -> _Tree:
    """Count from the first lots on, each lot once, without recursion: a tree may be deep."""
    tree = _Tree({}, {})
    back = [lot]
    branches: list[Iterator[int]] = [iter(_beyond(lot, parents, firsts))]
    under_way = {lot}
    tree.leading[lot] = []
    while branches:
        parent = next(branches[-1], None)
        if parent is None:
            branches.pop()
            done = back.pop()
            under_way.discard(done)
            leading = [p for p in tree.leading[done] if tree.counts[p]]
            ways = 1 if done in firsts else sum(tree.counts[p] for p in leading)
            tree.leading[done] = leading
            tree.counts[done] = min(ways, MOST_COUNTED)
        elif parent not in under_way:
            tree.leading[back[-1]].append(parent)
            if parent not in tree.counts:
                back.append(parent)
                branches.append(iter(_beyond(parent, parents, firsts)))
                under_way.add(parent)
                tree.leading[parent] = []
    return tree


def _beyond(
    lot: int, parents: Mapping[int, Sequence[int]], firsts: frozenset[int]
) -> Sequence[int]:
    return () if lot in firsts else parents.get(lot, ())
