"""The tables of the air: readings as sensors gave them, and what is derived of them.

``readings`` is append-only, and no part of the ledger: nothing is derived of it but air.
``air_hours``, ``air_days`` and ``doubts`` are derived of readings and registers; ``air_due`` and
``doubts_due`` say where they are not, or no longer, as the readings say.
"""

from typing import Any

from sqlalchemy import Column, Double, Integer, LargeBinary, Table, Text

from rindline_server.calc.air import Tally
from rindline_server.store.columns import CODE, METADATA, big, words

__all__ = ["AIR_DAYS", "AIR_DUE", "AIR_HOURS", "DOUBTS", "DOUBTS_DUE", "READINGS", "ROLLED"]

READINGS = Table(
    "readings",
    METADATA,
    Column("sensor", CODE, primary_key=True, nullable=False),
    big("at_us", primary_key=True),
    Column("c_milli", Integer, nullable=True),
    Column("humidity_milli", Integer, nullable=True),
    big("recorded_us"),
    sqlite_with_rowid=False,
)


def _field(name: str, default: object) -> "Column[Any]":
    if isinstance(default, bytes):
        return Column(name, LargeBinary, nullable=False)
    if isinstance(default, int):
        return big(name)
    return Column(name, Double, nullable=default is None)


def _rolled_up(name: str, step: str) -> Table:
    return Table(
        name,
        METADATA,
        Column("room", CODE, primary_key=True, nullable=False),
        big(step, primary_key=True),
        *(_field(name, Tally._field_defaults[name]) for name in Tally._fields),
        sqlite_with_rowid=False,
    )


AIR_HOURS = _rolled_up("air_hours", "hour")
"""A row for each hour (whole hours since 1970 UTC) in which anything was observed."""

AIR_DAYS = _rolled_up("air_days", "day")
"""The same of days (whole days since 1970 UTC), added up of their hours."""

AIR_DUE = Table(
    "air_due",
    METADATA,
    Column("room", CODE, primary_key=True, nullable=False),
    big("from_hour", primary_key=True),
    big("until_hour"),
    sqlite_with_rowid=False,
)
"""Hours of a room that must be rolled up anew, with their days; of one room none touch."""

DOUBTS = Table(
    "doubts",
    METADATA,
    Column("sensor", CODE, primary_key=True, nullable=False),
    big("from_us", primary_key=True),
    words("kind", primary_key=True),
    big("until_us"),
    Column("detail", Text, nullable=False),
    sqlite_with_rowid=False,
)

DOUBTS_DUE = Table(
    "doubts_due",
    METADATA,
    Column("sensor", CODE, primary_key=True, nullable=False),
    big("from_hour", primary_key=True),
    big("until_hour"),
    sqlite_with_rowid=False,
)
"""Hours whose readings of a sensor are new since its doubts were found; as ``air_due``."""

ROLLED = (AIR_HOURS, AIR_DAYS, DOUBTS)
"""The tables that rolling up all readings fills again."""
