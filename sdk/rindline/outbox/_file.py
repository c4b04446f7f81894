"""The outbox's SQLite file: how it is opened, and what its faults mean.

Write-ahead log with ``synchronous=FULL``: each commit is synced before it returns, with one sync.
With a rollback journal FULL would leave the last commit to the directory's sync, and NORMAL
leaves it to chance in both. Each process checkpoints as it writes.
"""

import os
import sqlite3
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, NamedTuple, Protocol
from uuid import UUID, uuid4

from rindline.errors import DiskFullError, OutboxError

__all__ = ["Connection", "Layout", "OutboxFile", "Rows", "open_sqlite"]

_WAIT_S = 30.0
_CONSTANT = "SQLITE_FULL", "SQLITE_BUSY", "SQLITE_LOCKED"
_FULL, _BUSY, _LOCKED = (getattr(sqlite3, name) for name in _CONSTANT)

Rows = list[tuple[Any, ...]]


class Layout(NamedTuple):
    """What a file holds: its name for people, its mark, the version of its tables, the tables.

    ``application`` is the mark, so that no other program's file is taken for one. Every layout
    has the table ``about`` besides.
    """

    what: str
    application: int
    version: int
    tables: tuple[str, ...]


_ABOUT = "CREATE TABLE about (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID"


class _Cursor(Protocol):
    def fetchall(self) -> Rows: ...


class Connection(Protocol):
    """What is asked of SQLite: statements outside any transaction of the driver's own."""

    def execute(self, sql: str, parameters: Sequence[Any] = (), /) -> _Cursor:
        """Run a statement; raises :class:`sqlite3.Error`."""
        ...

    def close(self) -> None:
        """Close the file."""
        ...


def open_sqlite(path: Path) -> Connection:
    """Open the file with Python's own SQLite."""
    return sqlite3.connect(path, timeout=_WAIT_S, isolation_level=None, check_same_thread=False)


class OutboxFile:
    """One connection to an outbox's file, shared by the threads of a process, one at a time.

    The file is made if it is not there. ``synchronous`` is a setting only so that a test can
    show what the others lose.
    """

    def __init__(
        self,
        path: Path,
        layout: Layout,
        *,
        connect: Callable[[Path], Connection] = open_sqlite,
        synchronous: str = "FULL",
    ) -> None:
        self.path = path
        self._layout = layout
        self._lock = threading.RLock()
        with self._faults("opened"):
            self._connection = connect(path)
            try:
                self._refuse_foreign()
                self._connection.execute("PRAGMA journal_mode=WAL")
                self._connection.execute(f"PRAGMA synchronous={synchronous}")
                # Where a sync alone does not reach the disk (macOS); elsewhere without effect.
                self._connection.execute("PRAGMA fullfsync=1")
                self._connection.execute("PRAGMA checkpoint_fullfsync=1")
                self._prepare()
            except BaseException:
                self._connection.close()
                raise
        _sync_folder(path.parent)
        self.outbox = UUID(self.about("outbox") or "")

    @contextmanager
    def transaction(self, doing: str = "written") -> Iterator[Connection]:
        """Do all of what is inside, synced to disk at its end, or nothing of it."""
        with self._lock, self._faults(doing):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield self._connection
                self._connection.execute("COMMIT")
            except BaseException:
                # SQLite may have rolled back by itself already, as it does when the disk is full.
                with suppress(sqlite3.Error):
                    self._connection.execute("ROLLBACK")
                raise

    def rows(self, sql: str, parameters: Sequence[Any] = ()) -> Rows:
        """Read."""
        with self._lock, self._faults("read"):
            return self._connection.execute(sql, parameters).fetchall()

    def about(self, name: str) -> str | None:
        """Give one of the file's own facts."""
        found = self.rows("SELECT value FROM about WHERE name = ?", (name,))
        return found[0][0] if found else None

    def note(self, **facts: str | None) -> None:
        """Keep some of the file's own facts; None forgets one. Writes only what is new."""
        new = {name: value for name, value in facts.items() if self.about(name) != value}
        if not new:
            return
        with self.transaction() as connection:
            for name, value in new.items():
                if value is None:
                    connection.execute("DELETE FROM about WHERE name = ?", (name,))
                else:
                    connection.execute(
                        "INSERT OR REPLACE INTO about (name, value) VALUES (?, ?)", (name, value)
                    )

    def close(self) -> None:
        """Close the file; what is in it stays."""
        with self._lock, self._faults("closed"):
            self._connection.close()

    def _refuse_foreign(self) -> None:
        """Look, before anything is written, whether the file is empty or an outbox."""
        [(application, version, tables)] = self._connection.execute(
            "SELECT (SELECT application_id FROM pragma_application_id),"
            " (SELECT user_version FROM pragma_user_version),"
            " (SELECT count(*) FROM sqlite_master)"
        ).fetchall()
        if tables and application != self._layout.application:
            raise OutboxError(f"{self.path} is not {self._layout.what}: give another file.")
        if tables and version != self._layout.version:
            raise OutboxError(
                f"{self.path} was made by another version of Rindline (format {version}): "
                "use that one to send what is in it."
            )

    def _prepare(self) -> None:
        """Make the tables, unless this or another process has."""
        with self.transaction("opened") as connection:
            if connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchall():
                return
            for table in (_ABOUT, *self._layout.tables):
                connection.execute(table)
            connection.execute(
                "INSERT INTO about (name, value) VALUES ('outbox', ?)", (str(uuid4()),)
            )
            connection.execute(f"PRAGMA application_id={self._layout.application}")
            connection.execute(f"PRAGMA user_version={self._layout.version}")

    @contextmanager
    def _faults(self, doing: str) -> Iterator[None]:
        """Turn what SQLite raises into the SDK's errors."""
        try:
            yield
        except sqlite3.Error as error:
            # The code's lowest byte is the kind of fault, the rest its place.
            code = getattr(error, "sqlite_errorcode", 0) & 0xFF
            what = f"The outbox {self.path} cannot be {doing}: {error}."
            if code == _FULL:
                raise DiskFullError(f"{what} Make room on the disk, then tell it again.") from error
            if code in (_BUSY, _LOCKED):
                raise OutboxError(f"{what} Another program holds it: tell it again.") from error
            raise OutboxError(
                f"{what} Nothing of this was told. Are the folder, the disk and the rights as they "
                "should be?"
            ) from error


def _sync_folder(folder: Path) -> None:
    """Make sure that the file's own name outlasts a power cut; SQLite syncs only its journals'."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
