"""Readings in the database: each once, in order of time, found by a walk along one index."""

import random
from collections.abc import Sequence

import pytest
from sqlalchemy import text

from rindline_server.store import ReadingRow, Store
from tests.store.conftest import Told
from tests.store.databases import direct
from tests.store.telling import RECORDED_US

_MINUTE_US = 60_000_000
_BEGIN_US = 1_770_000_000_000_000
_EARLIEST_US, _LATEST_US = -(2**62), 2**62


def _row(sensor: str, minute: int, c: int | None = 11_250, pct: int | None = 93_000) -> ReadingRow:
    return ReadingRow(sensor, _BEGIN_US + minute * _MINUTE_US, c, pct, RECORDED_US)


def _all(store: Store, sensor: str) -> list[tuple[int, int | None, int | None]]:
    with store.reading() as snap:
        return snap.readings(sensor, _EARLIEST_US, _LATEST_US)


def _shown(rows: Sequence[ReadingRow]) -> list[tuple[int, int | None, int | None]]:
    return [row[1:4] for row in sorted(rows)]


@pytest.mark.parametrize("count", [1, 15, 16, 3_000])
def test_readings_come_back_as_they_were_told(store: Store, count: int) -> None:
    """Few and many (PostgreSQL takes the two in different ways), temperature or humidity missing,
    told in any order: each sensor's come in order of time, and none of another's."""
    chance = random.Random(count)
    rows = [
        _row(sensor, minute, *chance.choice([(11_250, 93_001), (None, 0), (-40_000, None)]))
        for minute in range(-(count // 2), count - count // 2)
        for sensor in ("A", "A-1")
    ]
    chance.shuffle(rows)
    with store.writing() as tx:
        told = tx.tell_readings(rows)
    assert (told.new, told.repeated, told.standing) == (rows, [], [])
    for sensor in ("A", "A-1"):
        assert _all(store, sensor) == _shown([row for row in rows if row.sensor == sensor])
    assert _all(store, "B") == []


def test_a_reading_is_recorded_once(store: Store) -> None:
    """Told again, the same values are known for what they are, and other values change nothing:
    what stands is given back. All that is new beside them is recorded."""
    first = [_row("A", minute) for minute in range(40)]
    with store.writing() as tx:
        tx.tell_readings(first)
    later = [row._replace(recorded_us=RECORDED_US + 1) for row in first]
    later[3] = later[3]._replace(c_milli=None)
    later[7] = later[7]._replace(humidity_milli=93_001)
    new = [_row("A", 100), _row("B", 3)]
    with store.writing() as tx:
        told = tx.tell_readings([*later, *new])
    assert told.new == new
    assert told.standing == [first[3], first[7]]
    assert told.repeated == [row for row in later if row[1] not in (first[3][1], first[7][1])]
    assert _all(store, "A") == _shown([*first, new[0]])


def test_what_is_not_committed_is_not_there(store: Store) -> None:
    """Readings told in a transaction that came to nothing are new to the next."""
    rows = [_row("A", minute) for minute in range(40)]
    with store.writing() as tx:
        assert len(tx.tell_readings(rows).new) == 40
        tx.cancel()
    assert _all(store, "A") == []
    with store.writing() as tx:
        assert len(tx.tell_readings(rows).new) == 40


def test_a_range_holds_both_its_ends(store: Store) -> None:
    """From a reading's own time to another's: both are in it; a range between two is empty."""
    with store.writing() as tx:
        tx.tell_readings([_row("A", minute) for minute in (0, 10, 20, 30)])
    with store.reading() as snap:
        ten, twenty = (_BEGIN_US + minute * _MINUTE_US for minute in (10, 20))
        assert [at for at, _, _ in snap.readings("A", ten, twenty)] == [ten, twenty]
        assert snap.readings("A", ten + 1, twenty - 1) == []
        assert snap.reading_span("A", ten - 1, twenty + 1) == (ten, twenty)
        assert snap.reading_span("A", ten + 1, twenty - 1) is None
        assert snap.reading_span("B", _EARLIEST_US, _LATEST_US) is None


def test_the_last_reading_of_each_sensor(store: Store) -> None:
    """By time, not by the order of telling; a sensor without any has none."""
    with store.writing() as tx:
        tx.tell_readings([_row("A", 9, 1, None), _row("B", 5, None, 2)])
    with store.writing() as tx:
        tx.tell_readings([_row("A", 8), _row("B", 6, 3, 4)])
    with store.reading() as snap:
        assert snap.last_readings(["C", "B", "A"]) == {
            "A": (_BEGIN_US + 9 * _MINUTE_US, 1, None),
            "B": (_BEGIN_US + 6 * _MINUTE_US, 3, 4),
        }
        assert snap.last_readings([]) == {}
        assert snap.sensors_read() == ["A", "B"]


def test_when_events_were_recorded(told: Told) -> None:
    """Of an event, and of a replacement: when the correction was recorded it was told in."""
    with told.store.reading() as snap:
        feed = snap.feed(0, 1_000)
        ids = [row.id for row in feed]
        replaced = [v.event for versions in snap.registers.values() for v in versions]
        assert snap.recorded_at(ids) == dict.fromkeys(ids, RECORDED_US)
        assert snap.recorded_at(replaced) == dict.fromkeys(replaced, RECORDED_US)
        assert snap.recorded_at([]) == {}


@pytest.mark.parametrize(
    "statement",
    [
        "SELECT * FROM readings WHERE sensor = 'A' AND at_us BETWEEN 1 AND 2 ORDER BY at_us",
        "SELECT * FROM air_hours WHERE room = 'CAVE' AND hour >= 1 AND hour < 2 ORDER BY hour",
    ],
)
def test_a_range_is_one_walk_along_an_index(database_url: str, statement: str) -> None:
    """However many rooms, sensors and years there are: what is asked for lies together, in order,
    under the primary key, and nothing is sorted or read beside it."""
    with direct(database_url) as connection:
        if connection.dialect.name == "sqlite":
            (step,) = connection.execute(text(f"EXPLAIN QUERY PLAN {statement}")).all()
            plan = [str(step[-1])]
            assert plan[0].startswith("SEARCH")
            assert "USING PRIMARY KEY" in plan[0]
        else:
            connection.execute(text("SET enable_seqscan = off"))
            connection.execute(text("SET enable_bitmapscan = off"))
            plan = list(connection.execute(text(f"EXPLAIN {statement}")).scalars())
            assert plan[0].startswith("Index Scan using pk_")
            assert not [line for line in plan if "Sort" in line or "Filter" in line]
