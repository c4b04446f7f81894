"""One connection in use: statements written once, sent in the words of its database.

A statement is written with ``?`` for each parameter and these words in braces, each standing for
one parameter that :meth:`Link.many` makes:

    column {any_big}    column is one of many numbers
    column {any_text}   column is one of many texts
    {from_big}          a SELECT of many numbers, one a row

``column {any_id}`` is one of many 16-byte ids; only :meth:`Link.rows_for_ids` knows it.
"""

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

import msgspec
from sqlalchemy import Table

from rindline_server.store import bulk

__all__ = ["Link", "PostgresLink", "SqliteLink"]

Row = tuple[Any, ...]
_Rows = Sequence[Sequence[Any]]

_ROWS_AT_A_TIME = 1_000
_IDS_AT_A_TIME = 512

# COPY takes a round trip more than a statement, and a tenth of the time for each row.
_FEWER_THAN_COPIED = 16


class Link(ABC):
    """A connection taken from a pool, used by one thread at a time."""

    dialect: str
    _begin_read: str
    _begin_write: str

    def __init__(self, proxy: Any) -> None:
        """Take the pool's own handle of the connection."""
        self._proxy = proxy
        self._cursor = self._open_cursor()

    @abstractmethod
    def _open_cursor(self) -> Any: ...

    @abstractmethod
    def _is_broken(self) -> bool: ...

    @abstractmethod
    def _many(self, values: Sequence[int] | Sequence[str]) -> Any: ...

    @abstractmethod
    def _words(self, statement: str) -> str: ...

    @abstractmethod
    def _rows_for_ids(self, statement: str, ids: Sequence[bytes]) -> list[Row]: ...

    @abstractmethod
    def _each(self, statement: str, parameters: Sequence[Any]) -> Iterator[Row]: ...

    @abstractmethod
    def _change(self, statement: str, rows: _Rows) -> int: ...

    def _insert(self, table: Table, rows: _Rows) -> None:
        self._change(bulk.insert(self.dialect, table), rows)

    # --- the transaction ----------------------------------------------------------------------

    def begin(self, *, writes: bool) -> None:
        """Open a transaction: the writer's, or a snapshot that only reads."""
        self._cursor.execute(self._begin_write if writes else self._begin_read)

    def commit(self) -> None:
        """Commit: when this returns, all that was written is on disk."""
        self._cursor.execute("COMMIT")

    @property
    def is_broken(self) -> bool:
        """Whether the connection is of no use any more."""
        return self._is_broken()

    def close(self) -> None:
        """Roll back what is not committed and give the connection back to its pool."""
        if self._proxy is None:
            return
        broken = self._is_broken()
        proxy, self._proxy = self._proxy, None
        if broken:
            proxy.invalidate()
        # The pool rolls back what is still open.
        proxy.close()

    # --- questions ----------------------------------------------------------------------------

    def many(self, values: Sequence[int] | Sequence[str]) -> Any:
        """Make the one parameter that stands for many numbers or texts."""
        return self._many(values)

    def rows(self, statement: str, parameters: Sequence[Any] = ()) -> list[Row]:
        """Ask a statement and give its rows."""
        self._cursor.execute(self._words(statement), parameters)
        rows: list[Row] = self._cursor.fetchall()
        return rows

    def row(self, statement: str, parameters: Sequence[Any] = ()) -> Row | None:
        """Ask a statement for its first row."""
        self._cursor.execute(self._words(statement), parameters)
        row: Row | None = self._cursor.fetchone()
        return row

    def rows_for_ids(self, statement: str, ids: Sequence[bytes]) -> list[Row]:
        """Ask a statement that has ``{any_id}`` as its only parameter."""
        return self._rows_for_ids(statement, list(dict.fromkeys(ids))) if ids else []

    def each(self, statement: str, parameters: Sequence[Any] = ()) -> Iterator[Row]:
        """Ask a statement and give its rows without holding them all at once.

        Finish or close the iterator before anything else is asked.
        """
        return self._each(statement, parameters)

    # --- changes ------------------------------------------------------------------------------

    def run(self, statement: str, parameters: Sequence[Any] = ()) -> int:
        """Send a statement that answers no rows; gives how many it changed."""
        self._cursor.execute(self._words(statement), parameters)
        count: int = self._cursor.rowcount
        return count

    def insert(self, table: Table, rows: _Rows) -> None:
        """Add whole rows, columns in the table's order."""
        if rows:
            self._insert(table, rows)

    def put(self, table: Table, rows: _Rows) -> None:
        """Add whole rows, or replace those with the same primary key."""
        if rows:
            self._change(bulk.put(self.dialect, table), rows)

    def put_larger(self, table: Table, rows: _Rows) -> None:
        """Add (key, value) rows, or replace the value of those there by a larger one."""
        if rows:
            self._change(bulk.put_larger(self.dialect, table), rows)

    def void(self, table: Table, where: tuple[str, ...], rows: _Rows) -> int:
        """Set ``void_seq`` where these columns match and it is not set; gives how many rows.

        Each row: the ``void_seq``, then a value for each column of ``where``.
        """
        return self._change(bulk.void(self.dialect, table, where), rows) if rows else 0

    def delete(self, table: Table, where: tuple[str, ...], rows: _Rows) -> None:
        """Remove the rows whose columns match."""
        if rows:
            self._change(bulk.delete(self.dialect, table, where), rows)


@cache
def _sqlite_words(statement: str) -> str:
    return (
        statement.replace("{any_big}", "IN (SELECT value FROM json_each(?))")
        .replace("{any_text}", "IN (SELECT value FROM json_each(?))")
        .replace("{from_big}", "SELECT value FROM json_each(?)")
    )


class SqliteLink(Link):
    """A connection to SQLite."""

    dialect = "sqlite"
    # A reader's snapshot is fixed by the first row it reads. IMMEDIATE waits for the lock right
    # away, rather than fail at the first write because another wrote meanwhile.
    _begin_read = "BEGIN"
    _begin_write = "BEGIN IMMEDIATE"

    def _open_cursor(self) -> Any:
        return self._proxy.cursor()

    def _is_broken(self) -> bool:
        return False

    def _many(self, values: Sequence[int] | Sequence[str]) -> Any:
        return msgspec.json.encode(values).decode()

    def _words(self, statement: str) -> str:
        return _sqlite_words(statement)

    def _rows_for_ids(self, statement: str, ids: Sequence[bytes]) -> list[Row]:
        rows: list[Row] = []
        for start in range(0, len(ids), _IDS_AT_A_TIME):
            some = list(ids[start : start + _IDS_AT_A_TIME])
            # Few different lengths, so that the prepared statement is mostly there already.
            wanted = 1 << (len(some) - 1).bit_length()
            some += some[-1:] * (wanted - len(some))
            marks = ",".join("?" * wanted)
            rows += self.rows(statement.replace("{any_id}", f"IN ({marks})"), some)
        return rows

    def _each(self, statement: str, parameters: Sequence[Any]) -> Iterator[Row]:
        cursor = self._open_cursor()
        try:
            cursor.execute(self._words(statement), parameters)
            while rows := cursor.fetchmany(_ROWS_AT_A_TIME):
                yield from rows
        finally:
            cursor.close()

    def _change(self, statement: str, rows: _Rows) -> int:
        self._cursor.executemany(statement, rows)
        count: int = self._cursor.rowcount
        return count


@cache
def _postgres_words(statement: str) -> str:
    return (
        statement.replace("%", "%%")
        .replace("{any_big}", "= ANY(?::bigint[])")
        .replace("{any_text}", "= ANY(?::text[])")
        .replace("{any_id}", "= ANY(?::bytea[])")
        .replace("{from_big}", "SELECT unnest(?::bigint[])")
        .replace("?", "%s")
    )


class PostgresLink(Link):
    """A connection to PostgreSQL. The driver is in autocommit: transactions are ours to open."""

    dialect = "postgresql"
    _begin_read = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
    _begin_write = "BEGIN ISOLATION LEVEL READ COMMITTED READ WRITE"

    def _open_cursor(self) -> Any:
        # Binary results are read without parsing text.
        return self._proxy.cursor(binary=True)

    def _is_broken(self) -> bool:
        return self._proxy is not None and bool(self._proxy.dbapi_connection.closed)

    def _many(self, values: Sequence[int] | Sequence[str]) -> Any:
        return list(values)

    def _words(self, statement: str) -> str:
        return _postgres_words(statement)

    def _rows_for_ids(self, statement: str, ids: Sequence[bytes]) -> list[Row]:
        return self.rows(statement, [list(ids)])

    def _each(self, statement: str, parameters: Sequence[Any]) -> Iterator[Row]:
        yield from self._cursor.stream(self._words(statement), parameters, size=_ROWS_AT_A_TIME)

    def _change(self, statement: str, rows: _Rows) -> int:
        self._cursor.execute(statement, [list(column) for column in zip(*rows, strict=True)])
        count: int = self._cursor.rowcount
        return count

    def _insert(self, table: Table, rows: _Rows) -> None:
        if len(rows) < _FEWER_THAN_COPIED:
            super()._insert(table, rows)
            return
        statement, types = bulk.copied(table)
        with self._cursor.copy(statement) as copy:
            copy.set_types(types)
            for row in rows:
                copy.write_row(row)
