"""A ripening room with sensors, on a store: declared, read, and rolled up when a test says so.

No writer runs, so that a test decides which hours are rolled up and which are due.
"""

from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from rindline_schema.answers import ClimateAnswer
from rindline_schema.events import Declare, Event
from rindline_schema.params import ClimateParams
from rindline_schema.registers import RegisterEntry, Room, Sensor, Site
from rindline_server.calc.air import HOUR_US, AirRule
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.hanging import hangings_of
from rindline_server.ledger.times import to_us
from rindline_server.service import Service
from rindline_server.service.air.climate import climate
from rindline_server.service.air.doubts import find_doubts
from rindline_server.service.air.hours import DAY_HOURS, roll_days, roll_hours
from rindline_server.store import Due, ReadingRow, Store
from tests.service.callers import ANSWER_S, recorded
from tests.service.dairy import Dairy

__all__ = ["BEGIN", "RULE", "Cellar", "after", "course"]

BEGIN = datetime(2026, 3, 10, tzinfo=UTC)
"""The minute from which the tests count."""

RULE = AirRule()

_MINUTE_US = 60_000_000

Told = tuple[float, float | None, float | None]
"""A reading: minutes since the beginning, degrees, % of humidity."""


def after(minutes: float) -> datetime:
    """A time so many minutes after the beginning."""
    return BEGIN + timedelta(minutes=minutes)


def course(
    minutes: Iterable[int],
    c: Callable[[int], float] | None = None,
    pct: Callable[[int], float] | None = None,
) -> list[Told]:
    """Readings at these minutes, as functions of them."""
    return [
        (at, c(at) if c is not None else None, pct(at) if pct is not None else None)
        for at in minutes
    ]


class Cellar:
    """A site with rooms whose air is measured."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.now = after(60 * 24 * 60)
        self._dairy = Dairy()
        self.declare(0, Site(code="QM", name="Quillmere"), at=after(-60 * 24 * 365))

    def declare(
        self, minutes: float, *entries: RegisterEntry, at: datetime | None = None, **fields: Any
    ) -> list[Event]:
        """Declare entries from so many minutes after the beginning; recorded at `now`."""
        events: list[Event] = [
            self._dairy.event(Declare, at=at or after(minutes), entry=entry, **fields)
            for entry in entries
        ]
        self.tell(events)
        return events

    def new_id(self) -> UUID:
        """A fresh id of an event."""
        return self._dairy.id()

    def tell(self, events: Sequence[Event]) -> None:
        """Record events, with a writer that stops at once."""
        service = Service(self.store, lambda: self.now, ScaleTolerance())
        service.start()
        try:
            recorded(service, events)
        finally:
            service.stop(ANSWER_S)

    def room(self, code: str = "CAVE", minutes: float = 0, **limits: Any) -> None:
        """Declare a room."""
        self.declare(minutes, Room(code=code, name=code.title(), site="QM", **limits))

    def sensor(
        self, code: str = "S-1", room: str = "CAVE", minutes: float = 0, **offsets: float
    ) -> None:
        """Declare that a sensor hangs in a room, with its offsets."""
        self.declare(minutes, Sensor(code=code, name=f"Sensor {code}", room=room, **offsets))

    def read(self, readings: Iterable[Told], sensor: str = "S-1") -> None:
        """Tell readings, recorded at `now`."""
        rows = [
            ReadingRow(
                sensor,
                to_us(after(minutes)),
                None if c is None else round(c * 1000),
                None if pct is None else round(pct * 1000),
                to_us(self.now),
            )
            for minutes, c, pct in readings
        ]
        with self.store.writing() as tx:
            told = tx.tell_readings(rows)
        assert len(told.new) == len(rows)

    def roll(self, from_minutes: int, until_minutes: int, room: str = "CAVE") -> None:
        """Roll up the hours that touch a time, and find the doubts of all sensors in it."""
        first = to_us(after(from_minutes)) // HOUR_US
        behind = -(-to_us(after(until_minutes)) // HOUR_US)
        with self.store.writing() as tx:
            tx.put_air_hours(room, first, behind, roll_hours(tx, room, first, behind, RULE))
            days = first // DAY_HOURS, -(-behind // DAY_HOURS)
            tx.put_air_days(room, *days, roll_days(tx, room, *days))
            tx.take_due(Due(room, first, behind))
            for register, sensor in list(tx.registers):
                if register == "sensor" and hangings_of(tx.registers, sensor):
                    begin_us, end_us, rows = find_doubts(
                        tx, sensor, first * HOUR_US, behind * HOUR_US
                    )
                    tx.put_doubts(sensor, begin_us, end_us, rows)
                    tx.take_doubts_due(Due(sensor, first, behind))

    def mark_due(self, from_minutes: int, until_minutes: int, room: str = "CAVE") -> None:
        """Mark the hours of a time as due, of the room and of all sensors."""
        first = to_us(after(from_minutes)) // HOUR_US
        behind = -(-to_us(after(until_minutes)) // HOUR_US)
        with self.store.writing() as tx:
            tx.mark_due(room, [(first, behind)])
            for register, sensor in list(tx.registers):
                if register == "sensor":
                    tx.mark_doubts_due(sensor, [(first, behind)])

    def climate(
        self, from_minutes: float, until_minutes: float, room: str = "CAVE", **params: Any
    ) -> ClimateAnswer:
        """Ask for a room's air."""
        asked = ClimateParams(from_at=after(from_minutes), until_at=after(until_minutes), **params)
        with self.store.reading() as snap:
            return climate(snap, room, asked, RULE, self.now)
