"""The bare drivers at the work of the air: rows of readings put down, rows of hours fetched.

No rules, no look at what was there before, no figures, no HTTP.
"""

import sqlite3
import time
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy.engine import URL

from rindline_schema.answers import Reading
from rindline_server.calc.air import Tally
from tests.bench.bare import connect_postgres, connect_sqlite

__all__ = ["BareHours", "BareReadings", "wait_until_rolled_up"]

Stays = Sequence[tuple[str, datetime, datetime]]

_POLL_S = 0.01
_GIVEN_UP_S = 1_200.0
_HOUR_S = 3600

_TABLE = (
    "CREATE TABLE bare_readings (sensor text NOT NULL, at_us bigint NOT NULL, c_milli integer, "
    "humidity_milli integer, recorded_us bigint NOT NULL, PRIMARY KEY (sensor, at_us))"
)
_HOURS = (
    f"SELECT hour, {', '.join(Tally._fields)} FROM air_hours "
    "WHERE room = {one} AND hour >= {one} AND hour < {one} ORDER BY hour"
)
_DUE = "SELECT (SELECT COUNT(*) FROM air_due) + (SELECT COUNT(*) FROM doubts_due)"


class BareReadings:
    """Puts rows of readings into a table like the server's, a batch a commit.

    Each run's sensors have names of their own, so that no row is there already.
    """

    def __init__(self, url: URL) -> None:
        """Take a database of its own, of the same sort and on the same disk."""
        self._runs = 0
        self._sqlite: sqlite3.Connection | None = None
        if url.get_backend_name() == "sqlite":
            self._sqlite = connect_sqlite(url)
            self._sqlite.execute(f"{_TABLE} WITHOUT ROWID")
        else:
            self._postgres = connect_postgres(url)
            self._postgres.execute(_TABLE)

    def close(self) -> None:
        """Give the connection back."""
        (self._sqlite or self._postgres).close()

    def run(self, readings: Sequence[Reading], batch: int) -> float:
        """Give the seconds it takes to put these readings on disk, so many a commit."""
        self._runs += 1
        rows = [
            (
                f"{self._runs}-{reading.sensor}",
                int(reading.at.timestamp()) * 1_000_000,
                int((reading.temperature_c or 0) * 1000),
                int((reading.humidity_pct or 0) * 1000),
                0,
            )
            for reading in readings
        ]
        began = time.perf_counter()
        for start in range(0, len(rows), batch):
            self._insert(rows[start : start + batch])
        return time.perf_counter() - began

    def _insert(self, rows: Sequence[tuple[Any, ...]]) -> None:
        if self._sqlite is not None:
            self._sqlite.execute("BEGIN IMMEDIATE")
            self._sqlite.executemany("INSERT INTO bare_readings VALUES (?, ?, ?, ?, ?)", rows)
            self._sqlite.execute("COMMIT")
            return
        self._postgres.execute("BEGIN")
        self._postgres.execute(
            "INSERT INTO bare_readings SELECT * FROM "
            "unnest(%s::text[], %s::bigint[], %s::integer[], %s::integer[], %s::bigint[])",
            [list(column) for column in zip(*rows, strict=True)],
        )
        self._postgres.execute("COMMIT")


class BareHours:
    """Fetches the rolled-up hours of some stays, known beforehand."""

    def __init__(self, url: URL, stays: Stays) -> None:
        self._asked = [
            (room, _hour(from_at), _hour(until_at) + 1) for room, from_at, until_at in stays
        ]
        self.close: Callable[[], None]
        self._fetch: Callable[[Sequence[Any]], list[Any]]
        if url.get_backend_name() == "sqlite":
            sqlite = connect_sqlite(url)
            self.close = sqlite.close
            self._fetch = lambda asked: sqlite.execute(_HOURS.format(one="?"), asked).fetchall()
        else:
            postgres = connect_postgres(url)
            self.close = postgres.close
            cursor = postgres.cursor(binary=True)
            statement = _HOURS.format(one="%s")
            self._fetch = lambda asked: cursor.execute(statement, asked, prepare=True).fetchall()
        self.hours = sum(len(self._fetch(asked)) for asked in self._asked)

    def run(self) -> float:
        """Give the seconds one fetch takes."""
        began = time.perf_counter()
        for asked in self._asked:
            self._fetch(asked)
        return time.perf_counter() - began


def _hour(moment: datetime) -> int:
    return int(moment.timestamp()) // _HOUR_S


def wait_until_rolled_up(url: URL) -> None:
    """Wait until no hours or doubts are due; looks with a connection of its own."""
    connection: Any = (
        connect_sqlite(url) if url.get_backend_name() == "sqlite" else connect_postgres(url)
    )
    try:
        given_up = time.monotonic() + _GIVEN_UP_S
        while connection.execute(_DUE).fetchone()[0]:
            if time.monotonic() > given_up:
                raise RuntimeError("the hours were not rolled up")
            time.sleep(_POLL_S)
    finally:
        connection.close()
