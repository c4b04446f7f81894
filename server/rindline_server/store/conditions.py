"""What the conditions of a lot are read from: its ancestors up to the makes, stays, and deeds.

Each is one statement for all lots together, however long the path; bodies of events, which may
name a thousand lots each, are read once an event.
"""

from collections.abc import Sequence
from typing import NamedTuple

from rindline_server.ledger.entries import EntryKind
from rindline_server.store.entry_rows import kind_numbers, kind_of_number
from rindline_server.store.ids import id_text
from rindline_server.store.link import Link
from rindline_server.store.rows import LOT_KINDS

__all__ = ["Ancestry", "DeedRow", "KinRow", "StayRow", "ancestry", "bodies_at", "deeds", "stays"]


class KinRow(NamedTuple):
    """A lot, or one it was made of; ``kind`` and ``state`` are positions as in ``LotRow``."""

    id: int
    code: str
    kind: int
    state: int
    product: str | None
    born_us: int | None
    born_seq: int | None


class Ancestry(NamedTuple):
    """A lot with all it was made of, up to makes and not beyond.

    ``parents`` is by lot: how much of each parent went into it, most first.
    """

    lot: KinRow
    lots: dict[int, KinRow]
    parents: dict[int, list[tuple[int, int]]]


class StayRow(NamedTuple):
    """A lot's time at a site, in a room if one was told; no end while it lasts."""

    lot_id: int
    site: str
    room: str | None
    from_us: int
    until_us: int | None


class DeedRow(NamedTuple):
    """An entry in force of a lot; ``seq`` is where the ledger has the event (or correction)."""

    lot_id: int
    seq: int
    event: str
    kind: EntryKind
    at_us: int
    site: str
    mass_g: int | None
    partner: str | None
    to_site: str | None
    detail: str | None


_MAKE = LOT_KINDS.index("make")
_ANCESTRY = f"""
WITH RECURSIVE reached(id, kind) AS (
    SELECT id, kind FROM lots WHERE code = ?
    UNION
    SELECT p.id, p.kind FROM reached r JOIN edges e ON e.child_id = r.id
    JOIN lots p ON p.id = e.parent_id
    WHERE e.void_seq IS NULL AND r.kind <> {_MAKE}
)
SELECT e.parent_id, e.mass_g, l.id, l.code, l.kind, l.state, l.product, l.born_us, l.born_seq
FROM reached r JOIN lots l ON l.id = r.id
LEFT JOIN edges e ON e.child_id = l.id AND e.void_seq IS NULL AND l.kind <> {_MAKE}
"""


def ancestry(link: Link, code: str) -> Ancestry | None:
    """Give a lot and what it was made of, in one statement; None if it was never mentioned."""
    lots: dict[int, KinRow] = {}
    grams: dict[int, dict[int, int]] = {}
    for parent_id, mass_g, *columns in link.rows(_ANCESTRY, [code]):
        lot = lots.setdefault(columns[0], KinRow._make(columns))
        if parent_id is not None:
            of_parents = grams.setdefault(lot.id, {})
            of_parents[parent_id] = of_parents.get(parent_id, 0) + mass_g
    asked = next((lot for lot in lots.values() if lot.code == code), None)
    if asked is None:
        return None
    parents = {
        child: sorted(given.items(), key=lambda item: (-item[1], lots[item[0]].code))
        for child, given in grams.items()
    }
    return Ancestry(asked, lots, parents)


def stays(link: Link, ids: Sequence[int]) -> list[StayRow]:
    """Give the stays of these lots, by lot and in order of time."""
    rows = link.rows(
        "SELECT lot_id, site, room, from_us, until_us FROM stays WHERE lot_id {any_big} "
        "ORDER BY lot_id, number",
        [link.many(ids)],
    )
    return [StayRow._make(row) for row in rows]


def deeds(link: Link, ids: Sequence[int], kinds: Sequence[EntryKind]) -> list[DeedRow]:
    """Give the entries in force of these kinds, in order of time."""
    rows = link.rows(
        "SELECT lot_id, seq, event, kind, at_us, site, mass_g, partner, to_site, detail "
        "FROM entries "
        f"WHERE lot_id {{any_big}} AND kind IN ({kind_numbers(kinds)}) AND void_seq IS NULL "
        "ORDER BY at_us, event, lot_id, line",
        [link.many(ids)],
    )
    return [
        DeedRow(lot_id, seq, id_text(event), kind_of_number(kind), *columns)
        for lot_id, seq, event, kind, *columns in rows
    ]


def bodies_at(link: Link, seqs: Sequence[int]) -> dict[int, bytes]:
    """Give the bodies of the events with these ``seq``."""
    rows = link.rows("SELECT seq, body FROM ledger WHERE seq {any_big}", [link.many(seqs)])
    return {row[0]: row[1] for row in rows}
