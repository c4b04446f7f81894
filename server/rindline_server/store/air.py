"""Hours and days rolled up, and doubts: what is derived of readings."""

from collections.abc import Sequence
from typing import NamedTuple

from sqlalchemy import Table

from rindline_server.calc.air import Tally
from rindline_server.store import tables
from rindline_server.store.link import Link

__all__ = [
    "DoubtRow",
    "air_days",
    "air_hours",
    "clear",
    "doubts",
    "put_air_days",
    "put_air_hours",
    "put_doubts",
]

Spans = Sequence[tuple[int, int]]

_TALLY = ", ".join(Tally._fields)
_WHOLE = tuple(isinstance(default, int | bytes) for default in Tally()._asdict().values())


class DoubtRow(NamedTuple):
    """Readings of a sensor that are hard to believe; ``detail`` is a sentence."""

    sensor: str
    from_us: int
    kind: str
    until_us: int
    detail: str


# --- hours and days -------------------------------------------------------------------------------


def air_hours(link: Link, room: str, spans: Spans) -> list[tuple[int, Tally]]:
    """Give the hours of a room that are rolled up, in spans from one to before another."""
    return _rolled_up(link, "hour", room, spans)


def air_days(link: Link, room: str, spans: Spans) -> list[tuple[int, Tally]]:
    """Give the days of a room that are rolled up, in spans from one to before another."""
    return _rolled_up(link, "day", room, spans)


def _rolled_up(link: Link, step: str, room: str, spans: Spans) -> list[tuple[int, Tally]]:
    wanted = [span for span in spans if span[0] < span[1]]
    if not wanted:
        return []
    # One walk along the index for each span: asked for with OR, there would be one along them all.
    of_span = (
        f"SELECT {step}, {_TALLY} FROM air_{step}s WHERE room = ? AND {step} >= ? AND {step} < ?"
    )
    rows = link.rows(
        " UNION ALL ".join([of_span] * len(wanted)) + f" ORDER BY {step}",
        [value for span in wanted for value in (room, *span)],
    )
    return [(row[0], Tally._make(row[1:])) for row in rows]


def put_air_hours(
    link: Link, room: str, from_hour: int, until_hour: int, hours: Sequence[tuple[int, Tally]]
) -> None:
    """Put these hours in place of all the room has from one hour to before another."""
    _put_rolled_up(link, tables.AIR_HOURS, "hour", room, (from_hour, until_hour), hours)


def put_air_days(
    link: Link, room: str, from_day: int, until_day: int, days: Sequence[tuple[int, Tally]]
) -> None:
    """Put these days in place of all the room has from one day to before another."""
    _put_rolled_up(link, tables.AIR_DAYS, "day", room, (from_day, until_day), days)


def _put_rolled_up(
    link: Link,
    table: Table,
    step: str,
    room: str,
    span: tuple[int, int],
    rows: Sequence[tuple[int, Tally]],
) -> None:
    link.run(f"DELETE FROM {table} WHERE room = ? AND {step} >= ? AND {step} < ?", [room, *span])
    link.insert(table, [(room, at, *_values(tally)) for at, tally in rows])


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
