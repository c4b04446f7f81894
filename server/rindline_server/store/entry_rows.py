"""Entries of lots as rows: numbers for kinds and lots, bytes for ids."""

from collections.abc import Iterable
from typing import Any

from rindline_server.ledger.entries import PASSIVE, Entry, EntryKind
from rindline_server.store.ids import id_text

__all__ = [
    "ENTRY_COLUMNS",
    "PASSIVE_NUMBERS",
    "entry_of",
    "entry_row",
    "kind_numbers",
    "kind_of_number",
]

_KINDS: tuple[EntryKind, ...] = (
    "born",
    "arrive",
    "weigh",
    "move",
    "pack",
    "unpack",
    "take",
    "drain",
    "loss",
    "sample",
    "discard",
    "dispatch",
    "finish",
    "hold",
    "release",
    "tend",
    "iron",
    "result",
    "label",
)
# Positions in this list are in the database: only ever add at the end.

_NUMBERS = {kind: number for number, kind in enumerate(_KINDS)}


def kind_numbers(kinds: Iterable[EntryKind]) -> str:
    """Give the numbers of kinds of entry, for an SQL list."""
    return ", ".join(str(_NUMBERS[kind]) for kind in sorted(kinds))


def kind_of_number(number: int) -> EntryKind:
    """Give the kind of entry a row holds."""
    return _KINDS[number]


PASSIVE_NUMBERS = kind_numbers(PASSIVE)
"""The numbers of the kinds of entry that change no figure, for an SQL list."""

ENTRY_COLUMNS = (
    "e.event, e.line, e.kind, e.at_us, e.site, e.mass_g, e.count, e.room, e.document, "
    "e.partner, e.to_site, e.spreads, e.detail"
)
"""The columns :func:`entry_of` reads, of a table called ``e``."""


def entry_row(entry: Entry, lot_id: int, seq: int, part: int, event: bytes) -> list[Any]:
    """Make the row of an entry in force from ``seq`` on; ``part`` tells those of one seq apart.

    ``event`` is the entry's event as bytes. The fourth value is ``void_seq``, to be set if the
    entry goes out of force before the row is written.
    """
    return [
        lot_id,
        seq,
        part,
        None,
        event,
        entry.line,
        _NUMBERS[entry.kind],
        entry.at_us,
        entry.site,
        entry.mass_g,
        entry.count,
        entry.room,
        entry.document,
        entry.partner,
        entry.to_site,
        entry.spreads,
        entry.detail,
    ]


def entry_of(lot: str, row: tuple[Any, ...]) -> Entry:
    """Read an entry from ``ENTRY_COLUMNS``."""
    return Entry(
        lot=lot,
        event=id_text(row[0]),
        line=row[1],
        kind=_KINDS[row[2]],
        at_us=row[3],
        site=row[4],
        mass_g=row[5],
        count=row[6],
        room=row[7],
        document=row[8],
        partner=row[9],
        to_site=row[10],
        spreads=bool(row[11]),
        detail=row[12],
    )
