"""The store as the rest of the server sees it."""

from collections.abc import Iterator
from contextlib import contextmanager

from rindline_server.ledger.world import Registers
from rindline_server.store import drills, keys, tracing
from rindline_server.store.database import Database, StoreBusyError, is_busy
from rindline_server.store.reading import ReadTransaction
from rindline_server.store.register_rows import RegisterShelf
from rindline_server.store.rows import DrillRow, Head, KeyRow, Origin
from rindline_server.store.turns import Turns
from rindline_server.store.writing import WriteTransaction

__all__ = ["Store", "StoreBusyError"]


class Store:
    """One database. Threads may share it."""

    def __init__(self, url: str, *, readers: int = 8, wait_s: float = 10.0) -> None:
        """Take the database's URL, how many may read at once, and how long to wait for a turn.

        Nothing is connected yet.
        """
        self._database = Database(url, readers=readers, wait_s=wait_s)
        self._shelf = RegisterShelf()
        self._turns = Turns()
        self._wait_s = wait_s

    @property
    def dialect(self) -> str:
        """Give ``sqlite`` or ``postgresql``."""
        return self._database.dialect

    def close(self) -> None:
        """Give all connections back."""
        self._database.close()

    def check(self) -> str | None:
        """Say what is amiss (not migrated, a guard missing, unreachable), or give None."""
        return self._database.amiss()

    def is_busy(self, error: BaseException) -> bool:
        """Tell whether an error only says that somebody else was in the way."""
        return is_busy(error)

    def head(self) -> Head:
        """Give the ledger's end, outside any transaction."""
        row = self._database.ask(lambda link: link.row("SELECT seq, hash FROM head"))
        assert row is not None
        return Head(*row)

    def origin(self, code: str) -> tuple[Origin, Registers] | None:
        """Give a lot with all it was made of, and the registers, by a single statement.

        One statement is a snapshot of its own, and takes one round trip. None if there is no
        such lot, or the registers have to be read anew: then a reading transaction tells more.
        """
        found = self._database.ask(lambda link: tracing.origin(link, code))
        registers = self._shelf.kept(found.register_seq) if found is not None else None
        return (found, registers) if found is not None and registers is not None else None

    @contextmanager
    def writing(self) -> Iterator[WriteTransaction]:
        """Hold the head row's lock; commits on leaving, rolls back on an error.

        Raises StoreBusyError if another holds the lock for too long.
        """
        if not self._turns.take(self._wait_s):
            raise StoreBusyError("another thread writes for too long")
        try:
            with self._database.guarded_link(writes=True) as link:
                tx = WriteTransaction(link, self._shelf)
                yield tx
                tx.finish()
        finally:
            self._turns.end()

    @contextmanager
    def reading(self) -> Iterator[ReadTransaction]:
        """Hold one snapshot."""
        with self._database.guarded_link(writes=False) as link:
            yield ReadTransaction(link, self._shelf)

    def snapshot(self) -> ReadTransaction:
        """Open a snapshot that the caller closes."""
        link = self._database.borrow(writes=False)
        try:
            return ReadTransaction(link, self._shelf)
        except BaseException:
            link.close()
            raise

    # --- keys and drills: small transactions of their own ----------------------------------------

    def find_key(self, prefix: str) -> KeyRow | None:
        """Give the key with this prefix."""
        return self._database.ask(lambda link: keys.find(link, prefix))

    def list_keys(self) -> list[KeyRow]:
        """Give all keys, newest last."""
        return self._database.ask(keys.every)

    def add_key(self, row: KeyRow) -> None:
        """Keep a new key."""
        with self._database.guarded_link(writes=True) as link:
            keys.add(link, row)
            link.commit()

    def revoke_key(self, prefix: str, at_us: int) -> bool:
        """Revoke a key; False if there is none, or it was revoked before."""
        with self._database.guarded_link(writes=True) as link:
            revoked = keys.revoke(link, prefix, at_us)
            link.commit()
        return revoked

    def keep_drill(self, row: DrillRow) -> bool:
        """Keep a drill's answer; False if one with this id is kept already."""
        with self._database.guarded_link(writes=True) as link:
            kept = drills.keep(link, row)
            link.commit()
        return kept
