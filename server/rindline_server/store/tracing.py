"""Traces: from lot to lot over the edges, which reads their indexes alone.

A trace goes level by level, asking for the edges from all lots of a level at once, so that each
edge is read once: as the way on, and as part of the answer. One recursive statement for the lots
and another for the edges go over all of them twice, and take twice as long. The short answer, whose
few lots make each statement dear, is asked for in a single one.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any, Literal

from rindline_server.store.link import Link
from rindline_server.store.rows import (
    LOT_KINDS,
    AncestorRow,
    EdgeRow,
    Origin,
    Reached,
    TraceRow,
)

__all__ = ["Direction", "origin", "reach", "reach_as_of", "traced_lots"]

Direction = Literal["back", "forward"]

_FROM_TO = {"forward": ("parent_id", "child_id"), "back": ("child_id", "parent_id")}
_LOTS_AT_A_TIME = 1_000

_Edge = tuple[int, int, int]


def _by_levels(
    ids: Sequence[int], direction: Direction, ask: Callable[[list[int]], Iterable[_Edge]]
) -> Reached:
    """Go on from level to level; ``ask`` gives the edges from some lots."""
    grams: dict[tuple[int, int], int] = {}
    there = 1 if direction == "forward" else 0
    level, frontier = 0, sorted(set(ids))
    steps = dict.fromkeys(frontier, 0)
    while frontier:
        level += 1
        ahead: set[int] = set()
        for edge in sorted(ask(frontier)):
            pair, mass_g = edge[:2], edge[2]
            grams[pair] = grams[pair] + mass_g if pair in grams else mass_g
            ahead.add(pair[there])
        frontier = sorted(ahead - steps.keys())
        steps.update(dict.fromkeys(frontier, level))
    return Reached(steps, grams)


def reach(link: Link, ids: Sequence[int], direction: Direction) -> Reached:
    """Give the lots reached from these, which have no steps to go, and the edges between them."""
    here, _ = _FROM_TO[direction]
    statement = (
        f"SELECT parent_id, child_id, mass_g FROM edges WHERE {here} {{any_big}} "
        "AND void_seq IS NULL"
    )
    return _by_levels(ids, direction, lambda some: link.rows(statement, [link.many(some)]))


def reach_as_of(link: Link, ids: Sequence[int], direction: Direction, seq: int) -> Reached:
    """Give the same as it stood at ``seq``.

    What is in force now and what was voided since are asked for apart: each has its index.
    """
    here, _ = _FROM_TO[direction]
    statement = (
        f"SELECT parent_id, child_id, mass_g FROM edges WHERE {here} {{any_big}} AND seq <= ? AND "
    )

    def ask(some: list[int]) -> list[Any]:
        wanted = link.many(some)
        now = link.rows(statement + "void_seq IS NULL", [wanted, seq])
        return now + link.rows(
            statement + "void_seq IS NOT NULL AND void_seq > ?", [wanted, seq, seq]
        )

    return _by_levels(ids, direction, ask)


_LOTS = (
    "SELECT l.id, l.code, l.kind, l.state, l.held, l.product, l.born_us, l.made_g, "
    "l.made_count, h.sort, h.holder, h.room, h.to_site, h.mass_g, h.count "
    "FROM lots l LEFT JOIN holdings h ON h.lot_id = l.id WHERE l.id {any_big} "
    "ORDER BY l.id, h.sort, h.holder"
)


def traced_lots(link: Link, steps: Mapping[int, int]) -> Iterator[TraceRow]:
    """Give the lots with these ids and their holders, in the order :class:`Reached` has them in.

    They are fetched as they are taken.
    """
    ids = iter(steps)
    while some := list(islice(ids, _LOTS_AT_A_TIME)):
        rows = link.rows(_LOTS, [link.many(some)])
        rows.sort(key=lambda row: steps[row[0]])
        yield from map(TraceRow._make, rows)


# --- the short answer ---------------------------------------------------------------------------

_MAKE = LOT_KINDS.index("make")
_ORIGIN = f"""
WITH RECURSIVE reached(id, steps) AS (
    SELECT id, 0 FROM lots WHERE code = ?
    UNION
    SELECT e.parent_id, r.steps + 1 FROM reached r JOIN edges e ON e.child_id = r.id
    WHERE e.void_seq IS NULL
),
nearest(id, steps) AS (SELECT id, MIN(steps) FROM reached GROUP BY id)
SELECT h.seq, h.register_seq,
    EXISTS (SELECT 1 FROM holds WHERE spreads AND until_us IS NULL),
    b.body, e.parent_id, e.mass_g,
    l.id, n.steps, l.code, l.kind, l.state, l.held, l.site, l.product, l.supplier, l.born_us,
    l.made_g
FROM head h CROSS JOIN nearest n JOIN lots l ON l.id = n.id
LEFT JOIN edges e ON e.child_id = l.id AND e.void_seq IS NULL
-- A make has several parents: its event comes along with the first.
LEFT JOIN ledger b ON l.kind = {_MAKE} AND b.seq = l.born_seq AND (
    e.parent_id IS NULL OR e.parent_id = (
        SELECT MIN(f.parent_id) FROM edges f WHERE f.child_id = l.id AND f.void_seq IS NULL
    )
)
ORDER BY n.steps, l.id, e.parent_id
"""


def origin(link: Link, code: str) -> Origin | None:
    """Give a lot with all it was made of, in one statement."""
    rows = link.rows(_ORIGIN, [code])
    if not rows:
        return None
    lots: dict[int, AncestorRow] = {}
    grams: dict[tuple[int, int], int] = {}
    bodies: dict[int, bytes] = {}
    for _, _, _, body, parent_id, mass_g, *columns in rows:
        lot_id = columns[0]
        if lot_id not in lots:
            lots[lot_id] = AncestorRow._make(columns)
        if parent_id is not None:
            grams[parent_id, lot_id] = grams.get((parent_id, lot_id), 0) + mass_g
        if body is not None:
            bodies[lot_id] = body
    seq, register_seq, spreading = rows[0][:3]
    ancestors = list(lots.values())
    return Origin(
        lots=ancestors,
        edges=[EdgeRow(*pair, mass) for pair, mass in grams.items()],
        makes=bodies,
        may_be_held=bool(spreading) or ancestors[0].held > 0,
        as_of=seq,
        register_seq=register_seq,
    )
