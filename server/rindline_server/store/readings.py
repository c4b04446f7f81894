"""Readings: told once, kept as they came, asked for in order of time."""

from collections.abc import Sequence
from typing import NamedTuple

from rindline_server.store import tables
from rindline_server.store.ids import id_bytes, id_text
from rindline_server.store.link import Link

__all__ = [
    "ReadingRow",
    "ToldReadings",
    "last",
    "readings",
    "recorded_at",
    "sensors",
    "span",
    "tell",
    "told_before",
]

Shown = tuple[int, int | None, int | None]
"""When, and what: microseconds, thousandths of a degree, thousandths of a percent."""


class ReadingRow(NamedTuple):
    """A reading as it is kept: raw, without any offset, in thousandths."""

    sensor: str
    at_us: int
    c_milli: int | None
    humidity_milli: int | None
    recorded_us: int


class ToldReadings(NamedTuple):
    """What became of rows: new, and there already with the same values.

    ``standing``: where other values are there already, these, as they were recorded.
    """

    new: list[ReadingRow]
    repeated: list[ReadingRow]
    standing: list[ReadingRow]


def readings(link: Link, sensor: str, from_us: int, until_us: int) -> list[Shown]:
    """Give what a sensor showed from one time to another, both included, in order."""
    rows: list[Shown] = link.rows(
        "SELECT at_us, c_milli, humidity_milli FROM readings "
        "WHERE sensor = ? AND at_us BETWEEN ? AND ? ORDER BY at_us",
        [sensor, from_us, until_us],
    )
    return rows


def span(link: Link, sensor: str, from_us: int, until_us: int) -> tuple[int, int] | None:
    """Give the times of a sensor's first and last reading between two times, both included."""
    row = link.row(
        "SELECT MIN(at_us), MAX(at_us) FROM readings WHERE sensor = ? AND at_us BETWEEN ? AND ?",
        [sensor, from_us, until_us],
    )
    return (row[0], row[1]) if row is not None and row[0] is not None else None


def sensors(link: Link) -> list[str]:
    """Give the sensors that have readings."""
    # From each to the next along the index, rather than through all their readings.
    rows = link.rows(
        "WITH RECURSIVE found(sensor) AS (SELECT MIN(sensor) FROM readings UNION ALL "
        "SELECT (SELECT MIN(sensor) FROM readings WHERE sensor > found.sensor) FROM found "
        "WHERE found.sensor IS NOT NULL) "
        "SELECT sensor FROM found WHERE sensor IS NOT NULL"
    )
    return [row[0] for row in rows]


def last(link: Link, sensors: Sequence[str]) -> dict[str, Shown]:
    """Give the last reading of each of these sensors that has one."""
    rows = link.rows(
        "WITH given(sensor) AS ({from_text}), "
        "newest(sensor, at_us) AS (SELECT sensor, "
        "(SELECT MAX(at_us) FROM readings WHERE sensor = given.sensor) FROM given) "
        "SELECT sensor, at_us, c_milli, humidity_milli "
        "FROM newest JOIN readings USING (sensor, at_us)",
        [link.many(list(sensors))],
    )
    return {row[0]: (row[1], row[2], row[3]) for row in rows}


def told_before(link: Link, sensor: str, from_us: int, until_us: int, recorded_us: int) -> bool:
    """Tell whether any reading between two times, both included, was recorded before a moment.

    Of a sensor not yet declared then nothing was: so the readings need no look.
    """
    declared = link.row(
        "SELECT 1 FROM register_versions v JOIN ledger l ON l.seq = v.seq "
        "WHERE v.register = 'sensor' AND v.code = ? AND l.recorded_us < ? LIMIT 1",
        [sensor, recorded_us],
    )
    if declared is None:
        return False
    row = link.row(
        "SELECT 1 FROM readings WHERE sensor = ? AND at_us BETWEEN ? AND ? AND recorded_us < ? "
        "LIMIT 1",
        [sensor, from_us, until_us, recorded_us],
    )
    return row is not None


def recorded_at(link: Link, events: Sequence[str]) -> dict[str, int]:
    """Give when each of these events, or the correction it was told in, was recorded."""
    found: dict[str, int] = {}
    for column in ("id", "replacement_id"):
        missing = [id_bytes(event) for event in events if event not in found]
        rows = link.rows_for_ids(
            f"SELECT {column}, recorded_us FROM ledger WHERE {column} {{any_id}}", missing
        )
        found |= {id_text(event): recorded_us for event, recorded_us in rows}
    return found


def tell(link: Link, rows: Sequence[ReadingRow]) -> ToldReadings:
    """Keep the rows that are new; no two of them may be of one sensor and time.

    Under the writer's lock: nobody else can add one between the look and the insert.
    """
    there = {
        row[:2]: ReadingRow(*row) for row in link.find(tables.READINGS, [row[:2] for row in rows])
    }
    told = ToldReadings([], [], [])
    for row in rows:
        before = there.get(row[:2])
        if before is None:
            told.new.append(row)
        elif before[2:4] == row[2:4]:
            told.repeated.append(row)
        else:
            told.standing.append(before)
    link.insert(tables.READINGS, told.new)
    return told
