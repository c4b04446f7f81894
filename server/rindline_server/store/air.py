"""Hours rolled up, hours still due, doubts: what is derived of readings."""

from collections.abc import Sequence
from typing import NamedTuple

from rindline_server.calc.air import Tally
from rindline_server.store import tables
from rindline_server.store.link import Link

__all__ = [
    "DoubtRow",
    "air_hours",
    "clear",
    "doubts",
    "due_hours",
    "due_left",
    "mark_due",
    "next_due",
    "put_air_hours",
    "put_doubts",
    "take_due",
]

_TALLY = ", ".join(Tally._fields)


class DoubtRow(NamedTuple):
    """Readings of a sensor that are hard to believe; ``detail`` is a sentence."""

    sensor: str
    from_us: int
    kind: str
    until_us: int
    detail: str


# --- hours ----------------------------------------------------------------------------------------


def air_hours(link: Link, room: str, from_hour: int, until_hour: int) -> list[tuple[int, Tally]]:
    """Give the hours of a room that are rolled up, from one hour to before another, in order."""
    rows = link.rows(
        f"SELECT hour, {_TALLY} FROM air_hours WHERE room = ? AND hour >= ? AND hour < ? "
        "ORDER BY hour",
        [room, from_hour, until_hour],
    )
    return [(row[0], Tally._make(row[1:])) for row in rows]


def put_air_hours(
    link: Link, room: str, from_hour: int, until_hour: int, hours: Sequence[tuple[int, Tally]]
) -> None:
    """Put these hours in place of all the room has from one hour to before another."""
    link.run(
        "DELETE FROM air_hours WHERE room = ? AND hour >= ? AND hour < ?",
        [room, from_hour, until_hour],
    )
    link.insert(tables.AIR_HOURS, [(room, hour, *tally) for hour, tally in hours])


# --- hours that are due ---------------------------------------------------------------------------


def _touching(link: Link, room: str, from_hour: int, until_hour: int) -> list[tuple[int, int]]:
    rows = link.rows(
        "SELECT from_hour, until_hour FROM air_due "
        "WHERE room = ? AND from_hour <= ? AND until_hour >= ? ORDER BY from_hour",
        [room, until_hour, from_hour],
    )
    return [(row[0], row[1]) for row in rows]


def _replace(
    link: Link, room: str, old: Sequence[tuple[int, int]], new: Sequence[tuple[int, int]]
) -> None:
    gone, come = set(old).difference(new), set(new).difference(old)
    link.delete(tables.AIR_DUE, ("room", "from_hour"), [(room, one[0]) for one in sorted(gone)])
    link.insert(tables.AIR_DUE, [(room, *one) for one in sorted(come)])


def due_hours(link: Link, room: str, from_hour: int, until_hour: int) -> list[tuple[int, int]]:
    """Give the ranges of a room's hours that are due, cut to these bounds, in order."""
    found = _touching(link, room, from_hour, until_hour)
    cut = [(max(first, from_hour), min(last, until_hour)) for first, last in found]
    return [one for one in cut if one[0] < one[1]]


def mark_due(link: Link, room: str, ranges: Sequence[tuple[int, int]]) -> None:
    """Have ranges of a room's hours, each from one to before another, rolled up anew."""
    if not ranges:
        return
    old = _touching(link, room, min(one[0] for one in ranges), max(one[1] for one in ranges))
    new: list[tuple[int, int]] = []
    for first, behind in sorted([*old, *ranges]):
        if new and first <= new[-1][1]:
            new[-1] = (new[-1][0], max(new[-1][1], behind))
        else:
            new.append((first, behind))
    _replace(link, room, old, new)


def take_due(link: Link, room: str, from_hour: int, until_hour: int) -> None:
    """Say that these hours of a room are rolled up and no longer due."""
    old = _touching(link, room, from_hour, until_hour)
    new = [
        piece
        for first, behind in old
        for piece in ((first, min(behind, from_hour)), (max(first, until_hour), behind))
        if piece[0] < piece[1]
    ]
    _replace(link, room, old, new)


def next_due(link: Link, behind: tuple[str, int] | None) -> tuple[str, int, int] | None:
    """Give a range of hours that is due: the room, the first hour, the one after the last.

    ``behind``: the first whose (room, first hour) comes after this one.
    """
    where = "WHERE (room, from_hour) > (?, ?) " if behind is not None else ""
    row = link.row(
        f"SELECT room, from_hour, until_hour FROM air_due {where}ORDER BY room, from_hour LIMIT 1",
        behind or (),
    )
    return (row[0], row[1], row[2]) if row is not None else None


def due_left(link: Link) -> int:
    """Give how many hours are due in all."""
    row = link.row("SELECT CAST(COALESCE(SUM(until_hour - from_hour), 0) AS BIGINT) FROM air_due")
    return int(row[0]) if row is not None else 0


# --- doubts ---------------------------------------------------------------------------------------


def doubts(link: Link, sensors: Sequence[str], from_us: int, until_us: int) -> list[DoubtRow]:
    """Give the doubts about these sensors that touch a time, in order of time."""
    rows = link.rows(
        "SELECT sensor, from_us, kind, until_us, detail FROM doubts "
        "WHERE sensor {any_text} AND from_us <= ? AND until_us >= ? "
        "ORDER BY from_us, sensor, kind",
        [link.many(list(sensors)), until_us, from_us],
    )
    return [DoubtRow(*row) for row in rows]


def put_doubts(
    link: Link, sensor: str, from_us: int, until_us: int, rows: Sequence[DoubtRow]
) -> None:
    """Put these doubts in place of all about the sensor that touch a time.

    The time must be wide enough that ``rows`` holds every doubt that touches it.
    """
    link.run(
        "DELETE FROM doubts WHERE sensor = ? AND from_us <= ? AND until_us >= ?",
        [sensor, until_us, from_us],
    )
    link.insert(tables.DOUBTS, rows)


def clear(link: Link) -> None:
    """Remove every hour and doubt: from here on all readings are rolled up again."""
    for table in (*tables.ROLLED, tables.AIR_DUE):
        # Not TRUNCATE: the account that serves has no right to it.
        link.run(f"DELETE FROM {table}")
