"""Connections: two pools a database, one that only reads and one for the writer.

SQLAlchemy keeps the pools and knows the dialects; statements go to the driver's own cursors,
which is several times quicker for many small rows. Transactions are opened by our own BEGIN:
pysqlite's way of opening them by itself loses updates, and psycopg's costs a round trip.
"""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

from sqlalchemy import URL, Engine, create_engine, event, make_url
from sqlalchemy import exc as sqlalchemy_errors

from rindline_server.store.condition import amiss
from rindline_server.store.link import Link
from rindline_server.store.postgres_link import PostgresLink
from rindline_server.store.sqlite_link import SqliteLink

__all__ = ["Database", "StoreBusyError", "is_busy", "normal_url"]

_Answer = TypeVar("_Answer")

_LONG_WAYS = ("hashjoin", "mergejoin", "material", "seqscan", "bitmapscan")


class StoreBusyError(Exception):
    """No connection came free, or somebody else holds the database, for too long."""


class _StaleConnectionError(Exception):
    """The server at the other end of a pooled connection went away."""


def normal_url(text: str) -> URL:
    """Read a database's URL, naming the driver we use; raises ValueError for what we can't."""
    url = make_url(text)
    kind = url.get_backend_name()
    if kind in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if kind != "sqlite":
        raise ValueError(f"{kind} is neither sqlite nor postgresql")
    if url.database in (None, "", ":memory:"):
        raise ValueError("an SQLite database must be a file")
    return url.set(drivername="sqlite")


def is_busy(error: BaseException) -> bool:
    """Tell whether an error only says that somebody else was in the way."""
    if isinstance(error, StoreBusyError | sqlalchemy_errors.TimeoutError):
        return True
    if isinstance(error, sqlite3.OperationalError):
        return error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
    # 55P03 lock_not_available, 40001 serialization_failure, 53300 too_many_connections.
    return getattr(error, "sqlstate", None) in ("55P03", "40001", "53300")


class Database:
    """One database's connections. Threads may share it."""

    def __init__(self, url: str, *, readers: int, wait_s: float) -> None:
        """Take the URL, how many may read at once, and how long to wait for a turn."""
        self.url = normal_url(url)
        self.dialect = self.url.get_backend_name()
        self._wait_s = wait_s
        self._reads = self._engine(readers, writes=False)
        # One for the writer, one for keys and drills that are kept meanwhile.
        self._writes = self._engine(2, writes=True)

    def _engine(self, size: int, *, writes: bool) -> Engine:
        sqlite = self.dialect == "sqlite"
        engine = create_engine(
            self.url,
            pool_size=size,
            max_overflow=0,
            pool_timeout=self._wait_s,
            # The connection used last has its statements prepared and its pages at hand.
            pool_use_lifo=True,
            connect_args=(
                {"isolation_level": None, "check_same_thread": False, "cached_statements": 512}
                if sqlite
                else {"autocommit": True, "application_name": "rindline", "prepare_threshold": 1}
            ),
        )
        settings = self._sqlite_settings(writes) if sqlite else self._postgres_settings(writes)

        def prepare(connection: Any, _record: object) -> None:
            cursor = connection.cursor()
            for statement in settings:
                cursor.execute(statement)
            cursor.close()

        event.listen(engine, "connect", prepare)
        return engine

    def _sqlite_settings(self, writes: bool) -> list[str]:  # noqa: FBT001
        return [
            f"PRAGMA busy_timeout = {int(self._wait_s * 1000)}",
            "PRAGMA foreign_keys = ON",
            # A commit is on disk before it is answered.
            "PRAGMA synchronous = FULL",
            "PRAGMA temp_store = MEMORY",
            f"PRAGMA cache_size = -{65_536 if writes else 16_384}",
            "PRAGMA journal_mode = WAL" if writes else "PRAGMA query_only = ON",
        ]

    def _postgres_settings(self, writes: bool) -> list[str]:  # noqa: FBT001
        settings = [
            # How many lots a trace reaches can't be foreseen. Left to guess, PostgreSQL reads whole
            # tables to find ten lots, above all before it has counted their rows, and takes longer
            # to plan and compile than to run. Every statement of ours has its index.
            "SET jit = off",
            "SET plan_cache_mode = force_generic_plan",
            *(f"SET enable_{way} = off" for way in _LONG_WAYS),
            "SET TIME ZONE 'UTC'",
            f"SET lock_timeout = {int(self._wait_s * 1000)}",
        ]
        return settings if writes else [*settings, "SET default_transaction_read_only = on"]

    def close(self) -> None:
        """Give all connections back."""
        self._reads.dispose()
        self._writes.dispose()

    def borrow(self, *, writes: bool, begin: bool = True) -> Link:
        """Take a connection, by default with a transaction begun; close it when done.

        Pooled connections whose server went away meanwhile are thrown out, once.
        """
        try:
            return self._borrow(writes=writes, begin=begin)
        except _StaleConnectionError:
            (self._writes if writes else self._reads).dispose()
            return self._borrow(writes=writes, begin=begin)

    def _borrow(self, *, writes: bool, begin: bool) -> Link:
        try:
            proxy = (self._writes if writes else self._reads).raw_connection()
        except sqlalchemy_errors.TimeoutError as error:
            raise StoreBusyError("no connection came free") from error
        link = SqliteLink(proxy) if self.dialect == "sqlite" else PostgresLink(proxy)
        try:
            if begin:
                link.begin(writes=writes)
        except Exception as error:
            stale = link.is_broken
            link.close()
            if stale:
                raise _StaleConnectionError from error
            if is_busy(error):
                raise StoreBusyError("somebody else holds the database") from error
            raise
        return link

    @contextmanager
    def guarded_link(self, *, writes: bool) -> Iterator[Link]:
        """Hold a connection with a transaction begun; what is not committed is rolled back."""
        link = self.borrow(writes=writes)
        try:
            yield link
        except Exception as error:
            # Waiting for the head's lock may fail later than the transaction's beginning.
            if is_busy(error) and not isinstance(error, StoreBusyError):
                raise StoreBusyError("somebody else holds the database") from error
            raise
        finally:
            link.close()

    def ask(self, question: Callable[[Link], _Answer]) -> _Answer:
        """Ask a single question outside any transaction: of the newest there is.

        A pooled connection whose server went away meanwhile is thrown out, and it is asked again.
        """
        link = self.borrow(writes=False, begin=False)
        try:
            return question(link)
        except Exception:
            if not link.is_broken:
                raise
        finally:
            link.close()
        self._reads.dispose()
        link = self.borrow(writes=False, begin=False)
        try:
            return question(link)
        finally:
            link.close()

    def amiss(self) -> str | None:
        """Say what keeps the database from being used, or give None."""
        try:
            with self._reads.connect() as connection:
                return amiss(connection)
        except sqlalchemy_errors.SQLAlchemyError as error:
            return f"the database can't be reached: {type(error).__name__}"
