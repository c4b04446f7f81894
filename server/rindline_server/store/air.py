"""Hours rolled up and doubts: what is derived of readings."""

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
    "put_air_hours",
    "put_doubts",
]

_TALLY = ", ".join(Tally._fields)
_WHOLE = tuple(isinstance(default, int | bytes) for default in Tally()._asdict().values())


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
    link.insert(tables.AIR_HOURS, [(room, hour, *_values(tally)) for hour, tally in hours])


def _values(tally: Tally) -> list[object]:
    # A list of fractions may hold no int on its way to PostgreSQL.
    return [
        value if whole or value is None else float(value)
        for value, whole in zip(tally, _WHOLE, strict=True)
    ]


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
    """Remove every hour and doubt, and what is due: all readings are to be rolled up again."""
    for table in (*tables.ROLLED, tables.AIR_DUE, tables.DOUBTS_DUE):
        # Not TRUNCATE: the account that serves has no right to it.
        link.run(f"DELETE FROM {table}")
