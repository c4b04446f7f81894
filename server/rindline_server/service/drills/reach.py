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
    steps: dict[int, int] = {}
    edges: set[EdgeRow] = set()
    for way in directions:
        found = snap.reach(roots, way)
        steps = found.steps | steps
        edges.update(found.edges())
    lots: dict[int, TraceRow] = {}
    holdings: list[tuple[TraceRow, HoldingRow]] = []
    for row in snap.traced_lots(steps):
        lots.setdefault(row.id, row)
        if row.sort is not None:
            holding = HoldingRow(
                row.id,
                row.sort,
                row.holder or "",
                row.room,
                row.to_site,
                row.mass_g or 0,
                row.count or 0,
            )
            holdings.append((row, holding))
    return Reach(lots, holdings, list(edges))
