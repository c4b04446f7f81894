"""Traces: one recursive statement over the edges, which reads their indexes alone."""

from collections.abc import Iterator, Sequence
from typing import Any, Literal

from rindline_server.store.holds import any_spreading_hold
from rindline_server.store.link import Link
from rindline_server.store.lots import LOT_COLUMNS
from rindline_server.store.rows import (
    LOT_KINDS,
    AncestorRow,
    EdgeRow,
    LotRow,
    Origin,
    TraceRow,
)

__all__ = ["Direction", "origin", "reach_as_of", "trace", "trace_edges"]

Direction = Literal["back", "forward"]

_FROM_TO = {"forward": ("parent_id", "child_id"), "back": ("child_id", "parent_id")}


def _reached(direction: Direction, start: str = "{from_big}") -> str:
    """Give the statement's beginning: the lots reached and how many steps away.

    A lot that is reached in several numbers of steps comes up once for each.
    """
    here, there = _FROM_TO[direction]
    return (
        f"WITH RECURSIVE start(id) AS ({start}), reached(id, steps) AS ("
        "SELECT id, 0 FROM start UNION "
        f"SELECT e.{there}, r.steps + 1 FROM reached r JOIN edges e ON e.{here} = r.id "
        "WHERE e.void_seq IS NULL), "
        "nearest(id, steps) AS (SELECT id, MIN(steps) FROM reached GROUP BY id) "
    )


_LOTS = (
    "SELECT l.id, n.steps, l.code, l.kind, l.state, l.held, l.product, l.born_us, l.made_g, "
    "l.made_count, h.sort, h.holder, h.room, h.to_site, h.mass_g, h.count "
    "FROM nearest n JOIN lots l ON l.id = n.id LEFT JOIN holdings h ON h.lot_id = l.id "
    "ORDER BY n.steps, l.id, h.sort, h.holder"
)


def _edges(direction: Direction) -> str:
    here, _ = _FROM_TO[direction]
    return (
        "SELECT e.parent_id, e.child_id, CAST(SUM(e.mass_g) AS bigint) "
        f"FROM nearest n JOIN edges e ON e.{here} = n.id WHERE e.void_seq IS NULL "
        "GROUP BY e.parent_id, e.child_id ORDER BY e.parent_id, e.child_id"
    )


_TRACES = {d: _reached(d) + _LOTS for d in _FROM_TO}  # type: ignore[arg-type]
_TRACE_EDGES = {d: _reached(d) + _edges(d) for d in _FROM_TO}  # type: ignore[arg-type]


def trace(link: Link, ids: Sequence[int], direction: Direction) -> Iterator[TraceRow]:
    """Give the lots reached from these, with their holders, by steps then id."""
    return map(TraceRow._make, link.each(_TRACES[direction], [link.many(ids)]))


def trace_edges(link: Link, ids: Sequence[int], direction: Direction) -> Iterator[EdgeRow]:
    """Give the edges between the lots reached, in order of parent then child."""
    return map(EdgeRow._make, link.each(_TRACE_EDGES[direction], [link.many(ids)]))


# --- the short answer ---------------------------------------------------------------------------

_ANCESTORS = _reached("back", "SELECT CAST(? AS bigint)") + (
    "SELECT l.id, n.steps, l.code, l.kind, l.state, l.site, l.product, l.supplier, l.born_us, "
    "l.born_seq, l.made_g FROM nearest n JOIN lots l ON l.id = n.id ORDER BY n.steps, l.id"
)
_ANCESTOR_EDGES = _reached("back", "SELECT CAST(? AS bigint)") + _edges("back")
_LOT = f"SELECT {LOT_COLUMNS} FROM lots l WHERE l.code = ?"
_MAKE = LOT_KINDS.index("make")


def origin(link: Link, code: str) -> Origin | None:
    """Give a lot with all it was made of."""
    row = link.row(_LOT, [code])
    if row is None:
        return None
    lot = LotRow(*row)
    ancestors = [AncestorRow(*r) for r in link.rows(_ANCESTORS, [lot.id])]
    edges = [EdgeRow(*r) for r in link.rows(_ANCESTOR_EDGES, [lot.id])]
    makes = {a.born_seq: a.id for a in ancestors if a.kind == _MAKE and a.born_seq is not None}
    bodies: dict[int, bytes] = {}
    if makes:
        for seq, body in link.rows(
            "SELECT seq, body FROM ledger WHERE seq {any_big}", [link.many(sorted(makes))]
        ):
            bodies[makes[seq]] = body
    return Origin(lot, ancestors, edges, bodies, lot.held > 0 or any_spreading_hold(link))


# --- earlier ------------------------------------------------------------------------------------


def reach_as_of(
    link: Link, ids: Sequence[int], direction: Direction, seq: int
) -> tuple[dict[int, int], list[EdgeRow]]:
    """Give steps by lot id, and the edges, as they stood at ``seq``.

    What is in force now and what was voided since are asked for apart: each has its index.
    """
    here, there = _FROM_TO[direction]
    found: dict[tuple[int, int], int] = {}
    steps = dict.fromkeys(ids, 0)
    level, frontier = 0, list(steps)
    statement = (
        f"SELECT parent_id, child_id, mass_g, {there} FROM edges WHERE {here} {{any_big}} "
        "AND seq <= ? AND "
    )
    while frontier:
        level += 1
        wanted = link.many(frontier)
        rows: list[tuple[Any, ...]] = link.rows(statement + "void_seq IS NULL", [wanted, seq])
        rows += link.rows(statement + "void_seq IS NOT NULL AND void_seq > ?", [wanted, seq, seq])
        frontier = []
        for parent, child, mass_g, reached in rows:
            found[parent, child] = found.get((parent, child), 0) + mass_g
            if reached not in steps:
                steps[reached] = level
                frontier.append(reached)
    return steps, [EdgeRow(*pair, mass_g) for pair, mass_g in sorted(found.items())]
