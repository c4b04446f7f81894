"""Emptying the derived tables, and telling whether they are the same as before."""

from hashlib import blake2b
from typing import NamedTuple

from rindline_server.store.link import Link
from rindline_server.store.tables import DERIVED, ROLLED

__all__ = ["Digest", "clear", "digests"]

_BITS = 256


class Digest(NamedTuple):
    """How many rows a table has, and a figure over them all that no other rows have.

    The figure does not depend on the order in which the rows are read.
    """

    rows: int
    figure: int


def digests(link: Link) -> dict[str, Digest]:
    """Give the digest of each derived table."""
    return {
        table.name: _digest(link, f"SELECT {', '.join(c.name for c in table.columns)} FROM {table}")
        for table in (*DERIVED, *ROLLED)
    }


def _digest(link: Link, statement: str) -> Digest:
    rows, figure = 0, 0
    for row in link.each(statement):
        rows += 1
        digest = blake2b(repr(row).encode(), digest_size=_BITS // 8).digest()
        figure += int.from_bytes(digest, "big")
    return Digest(rows, figure % (1 << _BITS))


def clear(link: Link) -> None:
    """Remove every row of the derived tables."""
    for table in DERIVED:
        # Not TRUNCATE: the account that serves has no right to it.
        link.run(f"DELETE FROM {table}")
