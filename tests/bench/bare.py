"""The bare drivers at the same work: what the record is measured against.

Each does what no record could do without: rows of the same size on disk in the same safety, rows
of the same lots fetched and written as JSON. No rules, no chain, no indexes, no HTTP.
"""

import sqlite3
from collections.abc import Callable, Sequence
from statistics import median
from time import perf_counter
from typing import Any

import msgspec
import psycopg
from sqlalchemy.engine import URL

__all__ = ["BareInserts", "BareTrace", "bytes_a_row", "connect_postgres", "connect_sqlite"]

_ROWS_A_COMMIT = 500
_SMALL_COMMITS = 101

_LOTS = (
    "SELECT code, kind, state, held, product, born_us, made_g, made_count FROM lots WHERE id {many}"
)
_HOLDINGS = (
    "SELECT lot_id, sort, holder, room, to_site, mass_g, count FROM holdings WHERE lot_id {many}"
)
_EDGES = "SELECT parent_id, child_id, mass_g FROM edges WHERE parent_id {many} AND void_seq IS NULL"
_REACHED = (
    "WITH RECURSIVE reached (id) AS (SELECT id FROM lots WHERE code = {one} UNION "
    "SELECT e.child_id FROM reached r JOIN edges e ON e.parent_id = r.id AND e.void_seq IS NULL) "
    "SELECT id FROM reached"
)
_SIZE = (
    "SELECT avg(length(id) + length(station) + length(told_hash) + length(body) + length(answer) "
    "+ length(hash) + 8) FROM ledger WHERE seq > (SELECT seq FROM head) - {one}"
)
_TABLE = "CREATE TABLE bare (seq bigint PRIMARY KEY, told {bytes} NOT NULL)"


def connect_postgres(url: URL) -> "psycopg.Connection[tuple[Any, ...]]":
    """Connect with the driver itself; transactions are opened by hand."""
    text = url.set(drivername="postgresql").render_as_string(hide_password=False)
    return psycopg.connect(text, autocommit=True)


def connect_sqlite(url: URL) -> sqlite3.Connection:
    """Connect with the driver itself, as safe as the server does; transactions by hand."""
    assert url.database is not None
    connection = sqlite3.connect(url.database, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA cache_size = -65536")
    return connection


def bytes_a_row(url: URL, rows: int) -> int:
    """Give how many bytes the newest rows of a ledger hold on average, the number left out."""
    size: tuple[Any, ...] | None
    if url.get_backend_name() == "sqlite":
        sqlite = connect_sqlite(url)
        size = sqlite.execute(_SIZE.format(one="?"), [rows]).fetchone()
        sqlite.close()
    else:
        with connect_postgres(url) as postgres:
            size = postgres.execute(_SIZE.format(one="%s"), [rows]).fetchone()
    assert size is not None
    return int(size[0])


class BareInserts:
    """Puts rows of a given size into a table of two columns, 500 a commit."""

    def __init__(self, url: URL) -> None:
        """Take a database of its own, of the same sort and on the same disk."""
        self._next = 1
        self._sqlite: sqlite3.Connection | None = None
        if url.get_backend_name() == "sqlite":
            self._sqlite = connect_sqlite(url)
            self._sqlite.execute(_TABLE.format(bytes="blob"))
        else:
            self._postgres = connect_postgres(url)
            self._postgres.execute(_TABLE.format(bytes="bytea"))

    def close(self) -> None:
        """Give the connection back."""
        (self._sqlite or self._postgres).close()

    def run(self, rows: int, row_bytes: int) -> float:
        """Give the seconds it takes to put so many rows of so many bytes on disk."""
        batches = []
        while rows > 0:
            size = min(rows, _ROWS_A_COMMIT)
            # Not all alike, so that nothing can be squeezed.
            batch = [
                (seq, (seq.to_bytes(8, "big") * (row_bytes // 8 + 1))[:row_bytes])
                for seq in range(self._next, self._next + size)
            ]
            self._next += size
            rows -= size
            batches.append(batch)
        began = perf_counter()
        for batch in batches:
            self._insert(batch)
        return perf_counter() - began

    def commit_s(self) -> float:
        """Give the seconds a commit of one small row takes: the middle one of many."""
        return median(self.run(1, 8) for _ in range(_SMALL_COMMITS))

    def _insert(self, batch: list[tuple[int, bytes]]) -> None:
        if self._sqlite is not None:
            self._sqlite.execute("BEGIN IMMEDIATE")
            self._sqlite.executemany("INSERT INTO bare VALUES (?, ?)", batch)
            self._sqlite.execute("COMMIT")
            return
        self._postgres.execute("BEGIN")
        self._postgres.execute(
            "INSERT INTO bare SELECT * FROM unnest(%s::bigint[], %s::bytea[])",
            [[seq for seq, _ in batch], [told for _, told in batch]],
        )
        self._postgres.execute("COMMIT")


class BareTrace:
    """Fetches the lots of a trace, their holders and edges by known ids, and writes them as JSON.

    Which lots they are was found out beforehand, so not even the way from one to the next is in
    the figure.
    """

    def __init__(self, url: URL, lot: str) -> None:
        """Find the lots."""
        self._encode = msgspec.json.Encoder().encode_lines
        if url.get_backend_name() == "sqlite":
            sqlite = connect_sqlite(url)
            self.close: Callable[[], None] = sqlite.close
            ids = sqlite.execute(_REACHED.format(one="?"), [lot]).fetchall()
            self._many: Any = msgspec.json.encode([row[0] for row in ids]).decode()
            self._fetch: Callable[[str], Sequence[Any]] = lambda statement: sqlite.execute(
                statement.format(many="IN (SELECT value FROM json_each(?))"), [self._many]
            ).fetchall()
        else:
            postgres = connect_postgres(url)
            self.close = postgres.close
            postgres.execute("SET jit = off")
            cursor = postgres.cursor(binary=True)
            ids = cursor.execute(_REACHED.format(one="%s"), [lot]).fetchall()
            self._many = [row[0] for row in ids]
            self._fetch = lambda statement: cursor.execute(
                statement.format(many="= ANY(%s::bigint[])"), [self._many]
            ).fetchall()
        self.lots = len(ids)

    def run(self) -> float:
        """Give the seconds one fetch takes."""
        began = perf_counter()
        for statement in (_LOTS, _HOLDINGS, _EDGES):
            assert self._encode(self._fetch(statement))
        return perf_counter() - began
