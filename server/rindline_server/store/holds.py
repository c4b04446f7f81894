"""Holds: which there are, and how far those that spread reach."""

from collections.abc import Sequence

from rindline_server.ledger.states import HoldSpan
from rindline_server.store.ids import id_text
from rindline_server.store.link import Link

__all__ = [
    "REACHED_BY_SPREADING",
    "any_spreading_hold",
    "held_by_spreading",
    "load_holds",
    "load_parents",
    "spreading_hold_between",
]

_SPREADING = "SELECT 1 FROM holds WHERE spreads"

_ANCESTORS = """
WITH RECURSIVE up(id) AS (
    {from_big}
    UNION
    SELECT e.parent_id FROM up JOIN edges e ON e.child_id = up.id WHERE e.void_seq IS NULL
)
SELECT e.child_id, e.parent_id FROM up JOIN edges e ON e.child_id = up.id
WHERE e.void_seq IS NULL ORDER BY e.child_id, e.parent_id
"""

REACHED_BY_SPREADING = """
WITH RECURSIVE down(id, event, since_us) AS (
    SELECT lot_id, event, since_us FROM holds WHERE spreads AND until_us IS NULL
    UNION
    SELECT e.child_id, d.event, d.since_us FROM down d JOIN edges e ON e.parent_id = d.id
    WHERE e.void_seq IS NULL
    AND NOT EXISTS (
        SELECT 1 FROM clears c WHERE c.lot_id = e.child_id AND c.at_us >= d.since_us
    )
    AND NOT EXISTS (
        SELECT 1 FROM holds h WHERE h.lot_id = e.child_id AND h.event = d.event
        AND h.until_us IS NOT NULL
    )
)
SELECT id FROM down
"""
"""Every lot a spreading hold in force reaches, also several times over.

A lot it was lifted for stops it, with all below: by a release of all holds since it was put on,
or by one that names it. This is ``ledger.holds.holds_at`` asked of all lots at once.
"""


def any_spreading_hold(link: Link) -> bool:
    """Tell whether a spreading hold is in force now."""
    return link.row(f"{_SPREADING} AND until_us IS NULL LIMIT 1") is not None


def spreading_hold_between(link: Link, from_us: int, to_us: int, *, ever: bool) -> bool:
    """Tell whether a spreading hold was in force at any time between two, or ``ever``."""
    if ever:
        return link.row(f"{_SPREADING} LIMIT 1") is not None
    # Two questions, each answered from the index: those that stand, and those lifted later.
    for until in ("until_us IS NULL", "until_us > ?"):
        parameters = [from_us, to_us] if "?" in until else [to_us]
        if link.row(f"{_SPREADING} AND {until} AND since_us <= ? LIMIT 1", parameters):
            return True
    return False


def load_parents(link: Link, ids: Sequence[int]) -> list[tuple[int, int]]:
    """Give (child, parent) of all edges on the way up from these lots."""
    return [(row[0], row[1]) for row in link.rows(_ANCESTORS, [link.many(ids)])] if ids else []


def load_holds(
    link: Link, ids: Sequence[int]
) -> tuple[dict[int, list[HoldSpan]], dict[int, list[int]]]:
    """Give by lot the holds ever put on it, and the times it was cleared, in order."""
    spans: dict[int, list[HoldSpan]] = {}
    clears: dict[int, list[int]] = {}
    if not ids:
        return spans, clears
    wanted = link.many(ids)
    for lot_id, event, since_us, until_us, spreads, reason in link.rows(
        "SELECT lot_id, event, since_us, until_us, spreads, reason FROM holds "
        "WHERE lot_id {any_big} ORDER BY lot_id, since_us, event",
        [wanted],
    ):
        span = HoldSpan(id_text(event), since_us, until_us, bool(spreads), reason)
        spans.setdefault(lot_id, []).append(span)
    for lot_id, at_us in link.rows(
        "SELECT lot_id, at_us FROM clears WHERE lot_id {any_big} ORDER BY lot_id, at_us",
        [wanted],
    ):
        clears.setdefault(lot_id, []).append(at_us)
    return spans, clears


def held_by_spreading(link: Link) -> set[int]:
    """Give every lot that a spreading hold in force reaches, those it is put on included."""
    if not any_spreading_hold(link):
        return set()
    return {row[0] for row in link.rows(REACHED_BY_SPREADING)}
