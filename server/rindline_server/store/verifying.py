"""Walking the hash chain from the first row to the head: any change of the ledger shows."""

from collections.abc import Callable
from typing import Any, NamedTuple

from rindline_server.store.chain import EMPTY_LEDGER_HASH, row_hash
from rindline_server.store.link import Link
from rindline_server.store.rows import Head

__all__ = ["LedgerFault", "first_fault"]

_ROWS_AT_A_TIME = 2_000

_TYPES = (int, bytes, bytes | None, bytes, int, bytes, bytes, bytes, bytes)


class LedgerFault(NamedTuple):
    """Where the ledger is not what was written, and in one sentence how that shows."""

    seq: int
    detail: str


def _statement(link: Link) -> str:
    # A text is read as the bytes it is: one that was changed may be no text any more.
    station = "CAST(station AS blob)" if link.dialect == "sqlite" else "convert_to(station, 'UTF8')"
    return (
        f"SELECT seq, id, replacement_id, {station}, recorded_us, told_hash, body, answer, hash "
        "FROM ledger WHERE seq > ? ORDER BY seq LIMIT ?"
    )


def first_fault(link: Link, head: Head, progress: Callable[[int], None]) -> LedgerFault | None:
    """Give the first ``seq`` at which anything is not as it was written, or None.

    ``progress`` is told how many rows are done.
    """
    statement = _statement(link)
    seq, digest = 0, EMPTY_LEDGER_HASH
    # From below zero: nothing may stand before the first row either.
    after = -(2**63)
    while rows := link.rows(statement, [after, _ROWS_AT_A_TIME]):
        for row in rows:
            fault = _fault_of(row, seq, digest, head)
            if fault is not None:
                return fault
            seq, digest = row[0], row[8]
        after = seq
        progress(seq)
    if seq != head.seq:
        return LedgerFault(seq + 1, f"the head says that the ledger ends at {head.seq}")
    if digest != head.hash:
        return LedgerFault(seq, "the head has another hash than the last row")
    return None


def _fault_of(row: tuple[Any, ...], before: int, digest: bytes, head: Head) -> LedgerFault | None:
    """Say what is wrong with a row that should follow on ``before`` with its ``digest``."""
    if row[0] != before + 1:
        missing = f"{before + 1} is missing: after {before} comes {row[0]}"
        return LedgerFault(min(row[0], before + 1), missing)
    if row[0] > head.seq:
        return LedgerFault(row[0], f"the head says that the ledger ends at {head.seq}")
    if not all(isinstance(value, kind) for value, kind in zip(row, _TYPES, strict=True)):
        return LedgerFault(row[0], "a column holds a value of another type")
    if row_hash(digest, row[:8]) != row[8]:
        return LedgerFault(row[0], "the row does not fit its hash and the row before")
    return None
