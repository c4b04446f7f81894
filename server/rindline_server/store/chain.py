"""The hash chain over the ledger.

Each row's hash is SHA-256 over the hash of the row before and every column of the row, each
preceded by its length in bytes, so that no two different rows give the same bytes. A row that is
changed, left out or put in between no longer fits those after it.
"""

from collections.abc import Iterable
from hashlib import sha256

__all__ = ["EMPTY_LEDGER_HASH", "row_hash"]

EMPTY_LEDGER_HASH = bytes(32)
"""What the first row follows on."""

_DOMAIN = b"rindline ledger row 1\n"
_MISSING = b"\xff" * 8


def _parts(columns: Iterable[int | bytes | None]) -> Iterable[bytes]:
    for value in columns:
        if value is None:
            yield _MISSING
        else:
            data = value.to_bytes(8, "big", signed=True) if isinstance(value, int) else value
            yield len(data).to_bytes(8, "big")
            yield data


def row_hash(previous: bytes, columns: Iterable[int | bytes | None]) -> bytes:
    """Give the hash of the row with these columns (all but its hash, in the table's order)."""
    return sha256(b"".join((_DOMAIN, previous, *_parts(columns)))).digest()
