"""Where the air is due: ranges of hours of a room or a sensor whose figures must be made anew.

Hours are whole hours since 1970 UTC; a range goes from one to before another. The ranges of one
room, or of one sensor, never touch one another.
"""

from collections.abc import Sequence
from typing import NamedTuple

from sqlalchemy import Table

from rindline_server.store import tables
from rindline_server.store.link import Link

__all__ = ["Due", "empty", "left", "mark", "nearest", "ranges", "take"]

Ranges = Sequence[tuple[int, int]]


class Due(NamedTuple):
    """A range that is due: of which room, or sensor."""

    of: str
    from_hour: int
    until_hour: int


def _key(table: Table) -> str:
    return next(iter(table.primary_key)).name


def _touching(
    link: Link, table: Table, of: str, from_hour: int, until_hour: int
) -> list[tuple[int, int]]:
    rows = link.rows(
        f"SELECT from_hour, until_hour FROM {table} "
        f"WHERE {_key(table)} = ? AND from_hour <= ? AND until_hour >= ? ORDER BY from_hour",
        [of, until_hour, from_hour],
    )
    return [(row[0], row[1]) for row in rows]


def _replace(link: Link, table: Table, of: str, old: Ranges, new: Ranges) -> None:
    gone, come = set(old).difference(new), set(new).difference(old)
    link.delete(table, (_key(table), "from_hour"), [(of, one[0]) for one in sorted(gone)])
    link.insert(table, [(of, *one) for one in sorted(come)])


def ranges(
    link: Link, table: Table, of: str, from_hour: int, until_hour: int
) -> list[tuple[int, int]]:
    """Give the ranges that are due, cut to these bounds, in order."""
    found = _touching(link, table, of, from_hour, until_hour)
    cut = [(max(first, from_hour), min(behind, until_hour)) for first, behind in found]
    return [one for one in cut if one[0] < one[1]]


def empty(link: Link) -> frozenset[str]:
    """Give the names of those tables in which nothing is due at all: mostly both."""
    names = [table.name for table in (tables.AIR_DUE, tables.DOUBTS_DUE)]
    row = link.row("SELECT " + ", ".join(f"EXISTS (SELECT 1 FROM {name})" for name in names))
    assert row is not None
    return frozenset(name for name, is_due in zip(names, row, strict=True) if not is_due)


def mark(link: Link, table: Table, of: str, hours: Ranges) -> None:
    """Have these ranges made anew."""
    if not hours:
        return
    first, behind = min(one[0] for one in hours), max(one[1] for one in hours)
    old = _touching(link, table, of, first, behind)
    new: list[tuple[int, int]] = []
    for first, behind in sorted([*old, *hours]):
        if new and first <= new[-1][1]:
            new[-1] = (new[-1][0], max(new[-1][1], behind))
        else:
            new.append((first, behind))
    _replace(link, table, of, old, new)


def take(link: Link, table: Table, due: Due) -> None:
    """Say that these hours were made anew and are no longer due."""
    old = _touching(link, table, *due)
    new = [
        piece
        for first, behind in old
        for piece in ((first, min(behind, due.from_hour)), (max(first, due.until_hour), behind))
        if piece[0] < piece[1]
    ]
    _replace(link, table, due.of, old, new)


def nearest(link: Link, table: Table, behind: tuple[str, int] | None) -> Due | None:
    """Give the first range that is due; the first behind this (room or sensor, first hour)."""
    key = _key(table)
    where = f"WHERE ({key}, from_hour) > (?, ?) " if behind is not None else ""
    row = link.row(
        f"SELECT {key}, from_hour, until_hour FROM {table} {where}"
        f"ORDER BY {key}, from_hour LIMIT 1",
        behind or (),
    )
    return Due(*row) if row is not None else None


def left(link: Link) -> int:
    """Give how many hours are due, of all rooms and all sensors together."""
    count = 0
    for table in (tables.AIR_DUE, tables.DOUBTS_DUE):
        row = link.row(
            f"SELECT CAST(COALESCE(SUM(until_hour - from_hour), 0) AS BIGINT) FROM {table}"
        )
        count += row[0] if row is not None else 0
    return count
