"""Many wheels at once: which there are, of which make, what was done to them, how often turned.

Each is one statement for all wheels together, and costs what those wheels have, however long the
record is: the newest wheels are found by an index of wheels alone.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

from msgspec import Struct

from rindline_server.ledger.entries import EntryKind
from rindline_server.store.entry_rows import kind_numbers, kind_of_number
from rindline_server.store.link import Link
from rindline_server.store.rows import LOT_KINDS

__all__ = [
    "MarkRow",
    "WheelFilter",
    "WheelRow",
    "count_wheels",
    "makes_of_wheels",
    "marks",
    "newest_wheels",
    "turnings",
    "wheels_of_make",
]


class WheelRow(NamedTuple):
    """A wheel whose hooping is told; ``born_seq`` is where the ledger has it."""

    id: int
    code: str
    product: str | None
    born_us: int
    born_seq: int
    made_g: int


class WheelFilter(Struct, frozen=True, kw_only=True):
    """Which wheels, by product and by when they were hooped: from (inclusive), before."""

    product: str | None = None
    from_us: int | None = None
    before_us: int | None = None


class MarkRow(NamedTuple):
    """An entry in force of a wheel; ``seq`` is where the ledger has its event."""

    lot_id: int
    seq: int
    kind: EntryKind
    at_us: int
    mass_g: int | None
    room: str | None
    partner: str | None
    detail: str | None


_WHEEL = LOT_KINDS.index("wheel")
_MAKE = LOT_KINDS.index("make")
_COLUMNS = ", ".join(f"l.{name}" for name in WheelRow._fields)


def _where(which: WheelFilter) -> tuple[str, list[Any]]:
    # The kind stands in the text: only so does a database see that the index of wheels will do.
    texts, parameters = [f"l.kind = {_WHEEL}", "l.born_us IS NOT NULL"], []
    for text, value in (
        ("l.born_us >= ?", which.from_us),
        ("l.born_us < ?", which.before_us),
        ("l.product = ?", which.product),
    ):
        if value is not None:
            texts.append(text)
            parameters.append(value)
    return " AND ".join(texts), parameters


def newest_wheels(link: Link, which: WheelFilter, limit: int) -> list[WheelRow]:
    """Give the wheels hooped last, newest first."""
    where, parameters = _where(which)
    rows = link.rows(
        f"SELECT {_COLUMNS} FROM lots l WHERE {where} ORDER BY l.born_us DESC, l.code DESC LIMIT ?",
        [*parameters, limit],
    )
    return [WheelRow._make(row) for row in rows]


def count_wheels(link: Link, which: WheelFilter) -> int:
    """Count wheels, reading the index alone."""
    where, parameters = _where(which)
    row = link.row(f"SELECT COUNT(*) FROM lots l WHERE {where}", parameters)
    return int(row[0]) if row is not None else 0


def wheels_of_make(link: Link, make_id: int) -> list[WheelRow]:
    """Give the wheels of a make whose hooping is told, by code."""
    rows = link.rows(
        f"SELECT {_COLUMNS} FROM lots l WHERE l.kind = {_WHEEL} AND l.born_us IS NOT NULL "
        "AND l.id IN (SELECT child_id FROM edges WHERE parent_id = ? AND void_seq IS NULL) "
        "ORDER BY l.code",
        [make_id],
    )
    return [WheelRow._make(row) for row in rows]


def makes_of_wheels(link: Link, ids: Sequence[int]) -> dict[int, str]:
    """Give the code of the make of each of these wheels."""
    rows = link.rows(
        "SELECT e.child_id, m.code FROM edges e JOIN lots m ON m.id = e.parent_id "
        f"WHERE e.child_id {{any_big}} AND e.void_seq IS NULL AND m.kind = {_MAKE}",
        [link.many(ids)],
    )
    return {row[0]: row[1] for row in rows}


def marks(
    link: Link, ids: Sequence[int], kinds: Sequence[EntryKind], tasks: Sequence[str]
) -> list[MarkRow]:
    """Give the entries in force of these kinds, and the tendings of these tasks, in order of time.

    Turnings are by far the most of a wheel's entries: leave them out, and count them by
    :func:`turnings`.
    """
    rows = link.rows(
        "SELECT lot_id, seq, kind, at_us, mass_g, room, partner, detail FROM entries "
        f"WHERE lot_id {{any_big}} AND void_seq IS NULL AND (kind IN ({kind_numbers(kinds)}) "
        f"OR (kind = {kind_numbers(['tend'])} AND detail {{any_text}})) "
        "ORDER BY at_us, event, lot_id, line",
        [link.many(ids), link.many(tasks)],
    )
    return [
        MarkRow(lot_id, seq, kind_of_number(kind), *columns) for lot_id, seq, kind, *columns in rows
    ]


def turnings(link: Link, ids: Sequence[int]) -> dict[int, int]:
    """Count how often each of these wheels was turned until it was last ironed, if it was."""
    iron, tend = kind_numbers(["iron"]), kind_numbers(["tend"])
    # In one walk: joined with themselves, entries take PostgreSQL a loop within a loop.
    rows = link.rows(
        "SELECT t.lot_id, COUNT(*) FROM (SELECT lot_id, kind, at_us, "
        f"MAX(CASE WHEN kind = {iron} THEN at_us END) OVER (PARTITION BY lot_id) AS ironed_us "
        "FROM entries WHERE lot_id {any_big} AND void_seq IS NULL "
        f"AND (kind = {iron} OR (kind = {tend} AND detail = 'turn'))) t "
        f"WHERE t.kind = {tend} AND (t.ironed_us IS NULL OR t.at_us <= t.ironed_us) "
        "GROUP BY t.lot_id",
        [link.many(ids)],
    )
    return {row[0]: row[1] for row in rows}
