"""What is derived of a lot as rows, and what of them changed."""

from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from sqlalchemy import Table

from rindline_schema.codes import kind_of_code, split_lot_code
from rindline_server.ledger.discrepancies import discrepancy_id
from rindline_server.ledger.states import Found, Holding, LotRecord
from rindline_server.store import tables
from rindline_server.store.ids import id_bytes
from rindline_server.store.rows import HOLDER_SORTS, LOT_KINDS, LOT_STATES

__all__ = ["NO_BIRTH", "PARTS", "Birth", "PartChanges", "lot_row"]

Row = tuple[Any, ...]

_KINDS: dict[str, int] = {kind: number for number, kind in enumerate(LOT_KINDS)}
_STATES: dict[str, int] = {state: number for number, state in enumerate(LOT_STATES)}
_SORTS: dict[str, int] = {sort: number for number, sort in enumerate(HOLDER_SORTS)}

# What follows the prefix's letters: two digits of the year, three of the day, the kind's letter.
_AFTER_SITE = 6


class Birth(NamedTuple):
    """By which event of the ledger a lot was made, and who supplied it."""

    seq: int | None
    supplier: str | None


NO_BIRTH = Birth(None, None)
"""Of a lot whose making is not told."""


def lot_row(lot_id: int, code: str, record: LotRecord, birth: Birth) -> Row:
    """Make a lot's row."""
    ours = [holding for holding in record.holdings if holding.where != "partner"]
    return (
        lot_id,
        code,
        _KINDS[kind_of_code(code)],
        split_lot_code(code)[0][:-_AFTER_SITE],
        record.product,
        birth.supplier,
        _STATES[record.state],
        record.hold_flag,
        record.born_us,
        birth.seq,
        record.made_g,
        record.made_count,
        sum(holding.mass_g for holding in ours),
        sum(holding.count for holding in ours),
        record.into_g,
        record.ripening_g,
        record.drained_g,
        record.cutting_g,
        record.samples_g,
        record.discarded_g,
        record.unaccounted_g,
    )


# --- the parts of a record that have rows of their own ------------------------------------------


def _holding_rows(lot_id: int, _code: str, record: LotRecord) -> Iterable[Row]:
    return (_holding_row(lot_id, holding) for holding in record.holdings)


def _holding_row(lot_id: int, h: Holding) -> Row:
    return (lot_id, _SORTS[h.where], h.holder, h.room, h.to_site, h.mass_g, h.count)


def _stay_rows(lot_id: int, _code: str, record: LotRecord) -> Iterable[Row]:
    return (
        (lot_id, number, stay.site, stay.room, stay.from_us, stay.until_us)
        for number, stay in enumerate(record.stays)
    )


def _sent_rows(lot_id: int, _code: str, record: LotRecord) -> Iterable[Row]:
    return (
        (
            lot_id,
            number,
            id_bytes(sent.event),
            sent.document,
            sent.document_kind,
            sent.at_us,
            sent.mass_g,
            sent.count,
            sent.partner,
            sent.to_site,
        )
        for number, sent in enumerate(record.sent)
    )


def _hold_rows(lot_id: int, _code: str, record: LotRecord) -> Iterable[Row]:
    return (
        (lot_id, id_bytes(s.event), s.since_us, s.until_us, s.spreads, s.reason)
        for s in record.holds
    )


def _clear_rows(lot_id: int, _code: str, record: LotRecord) -> Iterable[Row]:
    return ((lot_id, at_us) for at_us in dict.fromkeys(record.cleared_us))


def _discrepancy_rows(lot_id: int, code: str, record: LotRecord) -> Iterable[Row]:
    # One event may do the same wrong several times over: that is one thing to look into.
    worst: dict[str, Found] = {}
    for found in record.found:
        name = discrepancy_id(code, found)
        if name not in worst or abs(found.grams) > abs(worst[name].grams):
            worst[name] = found
    return (
        (name, found.kind, lot_id, id_bytes(found.event), found.grams, found.sure)
        for name, found in worst.items()
    )


class Part(NamedTuple):
    """A part of the record: its table, its field in the record, and how its rows are made.

    ``key`` are the columns of the table's primary key; they come first in each row.
    """

    table: Table
    field: str
    rows: Callable[[int, str, LotRecord], Iterable[Row]]
    key: tuple[str, ...]

    @classmethod
    def of(
        cls, table: Table, field: str, rows: Callable[[int, str, LotRecord], Iterable[Row]]
    ) -> "Part":
        """Describe a part; its key is read from the table."""
        return cls(table, field, rows, tuple(column.name for column in table.primary_key))


PARTS = (
    Part.of(tables.HOLDINGS, "holdings", _holding_rows),
    Part.of(tables.STAYS, "stays", _stay_rows),
    Part.of(tables.SENT, "sent", _sent_rows),
    Part.of(tables.HOLDS, "holds", _hold_rows),
    Part.of(tables.CLEARS, "cleared_us", _clear_rows),
    Part.of(tables.DISCREPANCIES, "found", _discrepancy_rows),
)
"""All parts of a record with rows of their own."""


class PartChanges:
    """The rows of one part of several records that are new, changed, or gone (by their keys)."""

    def __init__(self, part: Part) -> None:
        """Begin with no change."""
        self.part = part
        self.new: list[Row] = []
        self.changed: list[Row] = []
        self.gone: list[Row] = []

    def add(self, lot_id: int, code: str, before: LotRecord, after: LotRecord) -> None:
        """Add what changed in one record."""
        part = self.part
        was, becomes = getattr(before, part.field), getattr(after, part.field)
        if was == becomes:
            return
        if not was:
            self.new += part.rows(lot_id, code, after)
            return
        width = len(part.key)
        old = {row[:width]: row for row in part.rows(lot_id, code, before)}
        for row in part.rows(lot_id, code, after):
            there = old.pop(row[:width], None)
            if there is None:
                self.new.append(row)
            elif there != row:
                self.changed.append(row)
        self.gone += old
