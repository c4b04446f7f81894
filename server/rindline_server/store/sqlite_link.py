"""Statements in the words of SQLite."""

from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

import msgspec

from rindline_server.store.link import ROWS_AT_A_TIME, Link, Row, Rows

__all__ = ["SqliteLink"]

_IDS_AT_A_TIME = 512


@cache
def _sqlite_words(statement: str) -> str:
    return (
        statement.replace("{any_big}", "IN (SELECT value FROM json_each(?))")
        .replace("{any_text}", "IN (SELECT value FROM json_each(?))")
        .replace("{from_big}", "SELECT value FROM json_each(?)")
        .replace("{from_text}", "SELECT value FROM json_each(?)")
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

    def _end_reading(self) -> None:
        # Closing ends the snapshot also where rows were left unread; the pool rolls back.
        self._cursor.close()

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

    def _find(self, statement: str, keys: Rows) -> list[Row]:
        return self.rows(statement, [msgspec.json.encode(keys).decode()])

    def _each(self, statement: str, parameters: Sequence[Any]) -> Iterator[Row]:
        cursor = self._open_cursor()
        try:
            cursor.execute(self._words(statement), parameters)
            while rows := cursor.fetchmany(ROWS_AT_A_TIME):
                yield from rows
        finally:
            cursor.close()

    def _change(self, statement: str, rows: Rows) -> int:
        self._cursor.executemany(statement, rows)
        count: int = self._cursor.rowcount
        return count
