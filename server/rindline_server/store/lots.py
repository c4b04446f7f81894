"""Reading lots: one or many by code or number, who holds them, sums, entries."""

from collections.abc import Sequence

from rindline_server.ledger.entries import Entry
from rindline_server.store.entry_rows import ENTRY_COLUMNS, entry_of
from rindline_server.store.ids import id_text
from rindline_server.store.link import Link
from rindline_server.store.rows import (
    LOT_STATES,
    BalanceRow,
    HoldingRow,
    LotRow,
    SendingRow,
)

__all__ = [
    "LOT_COLUMNS",
    "balances",
    "codes_of",
    "entries_as_of",
    "find",
    "holdings",
    "ids_of",
    "sendings",
]

LOT_COLUMNS = ", ".join(f"l.{name}" for name in LotRow._fields)
"""The columns of :class:`LotRow`, of a table called ``l``."""


def find(link: Link, code: str) -> LotRow | None:
    """Give one lot."""
    row = link.row(f"SELECT {LOT_COLUMNS} FROM lots l WHERE l.code = ?", [code])
    return LotRow(*row) if row is not None else None


def ids_of(link: Link, codes: Sequence[str]) -> dict[str, int]:
    """Give the ids of lots by code."""
    rows = link.rows("SELECT code, id FROM lots WHERE code {any_text}", [link.many(codes)])
    return {row[0]: row[1] for row in rows}


def codes_of(link: Link, ids: Sequence[int]) -> dict[int, str]:
    """Give the codes of lots by id."""
    rows = link.rows("SELECT id, code FROM lots WHERE id {any_big}", [link.many(ids)])
    return {row[0]: row[1] for row in rows}


def holdings(link: Link, ids: Sequence[int]) -> list[HoldingRow]:
    """Give who holds how much of these lots."""
    rows = link.rows(
        "SELECT lot_id, sort, holder, room, to_site, mass_g, count FROM holdings "
        "WHERE lot_id {any_big} ORDER BY lot_id, sort, holder",
        [link.many(ids)],
    )
    return [HoldingRow(*row) for row in rows]


_SUMS = ", ".join(
    # PostgreSQL makes the sum of big numbers a decimal.
    f"CAST(SUM({name}) AS bigint)"
    for name in BalanceRow._fields[3:]
)


def balances(link: Link, ids: Sequence[int]) -> list[BalanceRow]:
    """Give the sums over these lots, by kind."""
    pending = LOT_STATES.index("pending")
    rows = link.rows(
        "SELECT kind, COUNT(*), COUNT(CASE WHEN state = ? THEN 1 END), "
        f"{_SUMS} FROM lots WHERE id {{any_big}} GROUP BY kind ORDER BY kind",
        [pending, link.many(ids)],
    )
    return [BalanceRow(*row) for row in rows]


def sendings(link: Link, ids: Sequence[int]) -> list[SendingRow]:
    """Give what of these lots left for partners, in order of time."""
    rows = link.rows(
        "SELECT lot_id, event, document, document_kind, at_us, mass_g, count, partner FROM sent "
        "WHERE lot_id {any_big} AND partner IS NOT NULL ORDER BY at_us, event, lot_id, number",
        [link.many(ids)],
    )
    return [SendingRow._make((row[0], id_text(row[1]), *row[2:])) for row in rows]


def entries_as_of(link: Link, ids: Sequence[int], seq: int) -> dict[str, list[Entry]]:
    """Give each lot's entries as they stood at ``seq``, by code; empty if all were void by then."""
    found: dict[str, list[Entry]] = {}
    for row in link.rows(
        f"SELECT l.code, e.void_seq, {ENTRY_COLUMNS} FROM lots l "
        "JOIN entries e ON e.lot_id = l.id WHERE l.id {any_big} AND e.seq <= ? "
        "ORDER BY e.lot_id, e.seq, e.part",
        [link.many(ids), seq],
    ):
        entries = found.setdefault(row[0], [])
        if row[1] is None or row[1] > seq:
            entries.append(entry_of(row[0], row[2:]))
    return found
