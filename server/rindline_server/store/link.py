"""One connection in use: statements written once, sent in the words of its database.

A statement is written with ``?`` for each parameter and these words in braces, each standing for
one parameter that :meth:`Link.many` makes:

    column {any_big}    column is one of many numbers
    column {any_text}   column is one of many texts
    {from_big}          a SELECT of many numbers, one a row
    {from_text}         a SELECT of many texts, one a row

``column {any_id}`` is one of many 16-byte ids; only :meth:`Link.rows_for_ids` knows it.
"""

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import Table

from rindline_server.store import bulk

__all__ = ["ROWS_AT_A_TIME", "Link", "Row", "Rows"]

Row = tuple[Any, ...]
Rows = Sequence[Sequence[Any]]

ROWS_AT_A_TIME = 1_000
"""How many rows a driver fetches at once where they are not wanted all together."""


class Link(ABC):
    """A connection taken from a pool, used by one thread at a time."""

    dialect: str
    _begin_read: str
    _begin_write: str

    def __init__(self, proxy: Any) -> None:
        """Take the pool's own handle of the connection."""
        self._proxy = proxy
        self._cursor = self._open_cursor()
        self._only_reads = False

    @abstractmethod
    def _open_cursor(self) -> Any: ...

    @abstractmethod
    def _is_broken(self) -> bool: ...

    @abstractmethod
    def _end_reading(self) -> None: ...

    @abstractmethod
    def _many(self, values: Sequence[int] | Sequence[str]) -> Any: ...

    @abstractmethod
    def _words(self, statement: str) -> str: ...

    @abstractmethod
    def _rows_for_ids(self, statement: str, ids: Sequence[bytes]) -> list[Row]: ...

    @abstractmethod
    def _find(self, statement: str, keys: Rows) -> list[Row]: ...

    @abstractmethod
    def _each(self, statement: str, parameters: Sequence[Any]) -> Iterator[Row]: ...

    @abstractmethod
    def _change(self, statement: str, rows: Rows) -> int: ...

    def _insert(self, table: Table, rows: Rows) -> None:
        self._change(bulk.insert(self.dialect, table), rows)

    # --- the transaction ----------------------------------------------------------------------

    def begin(self, *, writes: bool) -> None:
        """Open a transaction: the writer's, or a snapshot that only reads."""
        self._cursor.execute(self._begin_write if writes else self._begin_read)
        self._only_reads = not writes

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
        if self._only_reads:
            self._end_reading()
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

    def find(self, table: Table, keys: Rows) -> list[Row]:
        """Give the whole rows of a table that have these primary keys, in any order."""
        return self._find(bulk.find(self.dialect, table), keys) if keys else []

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

    def insert(self, table: Table, rows: Rows) -> None:
        """Add whole rows, columns in the table's order."""
        if rows:
            self._insert(table, rows)

    def put(self, table: Table, rows: Rows) -> None:
        """Add whole rows, or replace those with the same primary key."""
        if rows:
            self._change(bulk.put(self.dialect, table), rows)

    def put_larger(self, table: Table, rows: Rows) -> None:
        """Add (key, value) rows, or replace the value of those there by a larger one."""
        if rows:
            self._change(bulk.put_larger(self.dialect, table), rows)

    def void(self, table: Table, where: tuple[str, ...], rows: Rows) -> int:
        """Set ``void_seq`` where these columns match and it is not set; gives how many rows.

        Each row: the ``void_seq``, then a value for each column of ``where``.
        """
        return self._change(bulk.void(self.dialect, table, where), rows) if rows else 0

    def delete(self, table: Table, where: tuple[str, ...], rows: Rows) -> None:
        """Remove the rows whose columns match."""
        if rows:
            self._change(bulk.delete(self.dialect, table, where), rows)
