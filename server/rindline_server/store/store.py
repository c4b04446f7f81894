"""The store as the rest of the server sees it."""

from collections.abc import Iterator
from contextlib import contextmanager

from rindline_server.store.reading import ReadTransaction
from rindline_server.store.rows import DrillRow, Head, KeyRow
from rindline_server.store.writing import WriteTransaction

__all__ = ["Store", "StoreBusyError"]


class StoreBusyError(Exception):
    """No connection came free, or somebody else holds the database, for too long."""


class Store:
    """One database. Threads may share it."""

    def __init__(self, url: str, *, readers: int = 8, wait_s: float = 10.0) -> None:
        """Take the database's URL, how many may read at once, and how long to wait for a turn."""
        raise NotImplementedError

    @property
    def dialect(self) -> str:
        """Give ``sqlite`` or ``postgresql``."""
        raise NotImplementedError

    def close(self) -> None:
        """Give all connections back."""
        raise NotImplementedError

    def check(self) -> str | None:
        """Say what is amiss (not migrated, a guard missing, unreachable), or give None."""
        raise NotImplementedError

    def head(self) -> Head:
        """Give the ledger's end, outside any transaction."""
        raise NotImplementedError

    def is_busy(self, error: BaseException) -> bool:
        """Tell whether an error only says that somebody else was in the way."""
        raise NotImplementedError

    @contextmanager
    def writing(self) -> Iterator[WriteTransaction]:
        """Hold the head row's lock; commits on leaving, rolls back on an error."""
        raise NotImplementedError
        yield

    @contextmanager
    def reading(self) -> Iterator[ReadTransaction]:
        """Hold one snapshot."""
        raise NotImplementedError
        yield

    def snapshot(self) -> ReadTransaction:
        """Open a snapshot that the caller closes."""
        raise NotImplementedError

    # --- keys and drills: small transactions of their own ----------------------------------------

    def find_key(self, prefix: str) -> KeyRow | None:
        """Give the key with this prefix."""
        raise NotImplementedError

    def list_keys(self) -> list[KeyRow]:
        """Give all keys, newest last."""
        raise NotImplementedError

    def add_key(self, row: KeyRow) -> None:
        """Keep a new key."""
        raise NotImplementedError

    def revoke_key(self, prefix: str, at_us: int) -> bool:
        """Revoke a key; False if there is none, or it was revoked before."""
        raise NotImplementedError

    def keep_drill(self, row: DrillRow) -> bool:
        """Keep a drill's answer; False if one with this id is kept already."""
        raise NotImplementedError
