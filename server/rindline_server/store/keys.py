"""Keys: never the secret, only its hash."""

from rindline_server.store import tables
from rindline_server.store.link import Link
from rindline_server.store.rows import KeyRow

__all__ = ["add", "every", "find", "revoke"]

_COLUMNS = ", ".join(KeyRow._fields)


def find(link: Link, prefix: str) -> KeyRow | None:
    """Give the key with this prefix."""
    row = link.row(f"SELECT {_COLUMNS} FROM keys WHERE prefix = ?", [prefix])
    return KeyRow(*row) if row is not None else None


def every(link: Link) -> list[KeyRow]:
    """Give all keys, newest last."""
    rows = link.rows(f"SELECT {_COLUMNS} FROM keys ORDER BY created_us, prefix")
    return [KeyRow(*row) for row in rows]


def add(link: Link, row: KeyRow) -> None:
    """Keep a new key."""
    link.insert(tables.KEYS, [row])


def revoke(link: Link, prefix: str, at_us: int) -> bool:
    """Revoke a key; False if there is none, or it was revoked before."""
    statement = "UPDATE keys SET revoked_us = ? WHERE prefix = ? AND revoked_us IS NULL"
    return link.run(statement, [at_us, prefix]) == 1
