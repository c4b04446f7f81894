"""What a drill reaches from its lots: back, forward, or both."""

from typing import NamedTuple

from rindline_schema.answers import TraceDirection
from rindline_server.store import EdgeRow, HoldingRow, ReadTransaction, TraceRow

__all__ = ["Reach", "reach"]


class Reach(NamedTuple):
    """The lots by id (each once), who holds them, and the edges between them."""

    lots: dict[int, TraceRow]
    holdings: list[tuple[TraceRow, HoldingRow]]
    edges: list[EdgeRow]


def reach(snap: ReadTransaction, roots: list[int], direction: str) -> Reach:
    """Trace from several lots at once; in both directions, siblings are not reached."""
    directions: tuple[TraceDirection, ...] = (
        ("back", "forward")
        if direction == "both"
        else ("back",)
        if direction == "back"
        else ("forward",)
    )
    lots: dict[int, TraceRow] = {}
    holdings: list[tuple[TraceRow, HoldingRow]] = []
    edges: dict[tuple[int, int], EdgeRow] = {}
    for way in directions:
        before = frozenset(lots)
        for row in snap.trace(roots, way):
            if row.id in before:
                continue
            lots.setdefault(row.id, row)
            if row.sort is not None:
                holdings.append(
                    (
                        row,
                        HoldingRow(
                            row.id,
                            row.sort,
                            row.holder or "",
                            row.room,
                            row.to_site,
                            row.mass_g or 0,
                            row.count or 0,
                        ),
                    )
                )
        for edge in snap.trace_edges(roots, way):
            edges[edge.parent_id, edge.child_id] = edge
    return Reach(lots, holdings, list(edges.values()))
