"""Statements in the words of PostgreSQL."""

from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

import msgspec
from sqlalchemy import Table

from rindline_server.store import bulk
from rindline_server.store.link import ROWS_AT_A_TIME, Link, Row, Rows

__all__ = ["PostgresLink"]

# COPY takes a round trip more than a statement, and a tenth of the time for each row.
_FEWER_THAN_COPIED = 16


@cache
def _postgres_words(statement: str) -> str:
    return (
        statement.replace("%", "%%")
        .replace("{any_big}", "= ANY(?::bigint[])")
        .replace("{any_text}", "= ANY(?::text[])")
        .replace("{any_id}", "= ANY(?::bytea[])")
        .replace("{from_big}", "SELECT unnest(?::bigint[])")
        .replace("{from_text}", "SELECT unnest(?::text[])")
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

    def _end_reading(self) -> None:
        connection = self._proxy.dbapi_connection
        if connection.info.transaction_status.name == "ACTIVE":
            # Rows were left unread: sooner a new connection than read them all.
            connection.close()
        elif not connection.closed:
            # Rolled back, the driver would forget every statement it has prepared.
            self._cursor.execute("COMMIT")

    def _many(self, values: Sequence[int] | Sequence[str]) -> Any:
        if values and isinstance(values[0], int):
            # The driver writes arrays value by value; of numbers, JSON differs by its brackets.
            return f"{{{msgspec.json.encode(values).decode()[1:-1]}}}"
        return list(values)

    def _words(self, statement: str) -> str:
        return _postgres_words(statement)

    def _rows_for_ids(self, statement: str, ids: Sequence[bytes]) -> list[Row]:
        return self.rows(statement, [list(ids)])

    def _find(self, statement: str, keys: Rows) -> list[Row]:
        self._cursor.execute(statement, [self._many(column) for column in zip(*keys, strict=True)])
        rows: list[Row] = self._cursor.fetchall()
        return rows

    def _each(self, statement: str, parameters: Sequence[Any]) -> Iterator[Row]:
        yield from self._cursor.stream(self._words(statement), parameters, size=ROWS_AT_A_TIME)

    def _change(self, statement: str, rows: Rows) -> int:
        self._cursor.execute(statement, [list(column) for column in zip(*rows, strict=True)])
        count: int = self._cursor.rowcount
        return count

    def _insert(self, table: Table, rows: Rows) -> None:
        if len(rows) < _FEWER_THAN_COPIED:
            super()._insert(table, rows)
            return
        statement, types = bulk.copied(table)
        with self._cursor.copy(statement) as copy:
            copy.set_types(types)
            for row in rows:
                copy.write_row(row)
