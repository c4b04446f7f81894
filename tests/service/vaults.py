"""Cheese in rooms whose air is measured: told by a service whose clock a test may move."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from rindline_schema.answers import ConditionPath, ConditionsAnswer, Reading
from rindline_schema.events import (
    Correct,
    Cut,
    Declare,
    Dispatch,
    Document,
    Event,
    Heat,
    Hoop,
    Input,
    Line,
    Make,
    Move,
    NewWheel,
    Piece,
)
from rindline_schema.params import ConditionsParams
from rindline_schema.registers import MilkTreatment, RegisterEntry, Room, Sensor
from rindline_server.calc.air import AirRule
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.service import Caller, Service
from rindline_server.service.air.readings import tell_readings
from rindline_server.service.air.rolling import roll_due
from rindline_server.store import Store
from tests.service.callers import ANSWER_S, MANAGER, recorded
from tests.service.dairy import Dairy

__all__ = ["HOOPED_H", "MADE", "Course", "Vaults", "after", "naive_mean", "opened"]

MADE = datetime(2026, 3, 2, 6, tzinfo=UTC)
"""When the make began from which the tests count."""

HOOPED_H = 6
"""Hours from the make to hooping."""

Course = Callable[[float], float]
"""A quantity by hours since the make."""


def after(hours: float = 0, *, days: float = 0) -> datetime:
    """A time so long after the make."""
    return MADE + timedelta(days=days, hours=hours)


def naive_mean(spent: Sequence[tuple[Course, float, float]], every_minutes: int) -> float:
    """The mean of a quantity over times (its course, from and until in hours since the make).

    Worked out minute by minute from what a logger shows every so many minutes, by numpy alone.
    """
    areas, minutes = 0.0, 0
    for course, from_h, until_h in spent:
        begin, end = round(from_h * 60), round(until_h * 60)
        shown_at = np.arange(begin // every_minutes * every_minutes, end + every_minutes + 1)
        shown_at = shown_at[shown_at % every_minutes == 0]
        shown = [round(course(minute / 60), 3) for minute in shown_at]
        values = np.interp(np.arange(begin, end + 1), shown_at, shown)
        areas += float(np.sum((values[1:] + values[:-1]) / 2))
        minutes += end - begin
    return areas / minutes


class Vaults:
    """A dairy, its rooms and sensors. Events happen so many hours after the make."""

    def __init__(self, store: Store, **settings: Any) -> None:
        self.store = store
        self.now = after(days=-20)
        self.dairy = Dairy()
        self.service = Service(store, lambda: self.now, ScaleTolerance(), **settings)

    # --- telling ------------------------------------------------------------------------------

    def tell(self, *events: Event) -> None:
        """Record events."""
        recorded(self.service, events)

    def event(self, kind: Any, hours: float, **fields: Any) -> Any:
        """An event so long after the make."""
        return self.dairy.event(kind, at=after(hours), **fields)

    def declare(self, *entries: RegisterEntry, at: datetime | None = None) -> None:
        """Declare entries, long before the make unless said otherwise."""
        at = at or after(days=-30)
        self.tell(*(self.dairy.event(Declare, at=at, entry=entry) for entry in entries))

    def rooms(self, **names: str) -> None:
        """Declare rooms of site QM by code and name, each with one sensor of its own."""
        for code, name in names.items():
            sensor = Sensor(code=f"S-{code}", name=f"Sensor {code}", room=code)
            self.declare(Room(code=code, name=name, site="QM"), sensor)

    def read(
        self,
        room: str,
        from_h: float,
        until_h: float,
        c: Course | None = None,
        pct: Course | None = None,
        every_minutes: int = 60,
    ) -> None:
        """Tell what a room's sensor shows, at whole multiples of so many minutes."""
        first = -(-round(from_h * 60) // every_minutes) * every_minutes
        self._read(room, range(first, round(until_h * 60) + 1, every_minutes), c, pct)

    def read_at_half_past(self, room: str, from_h: int, until_h: int, pct: Course) -> None:
        """Tell a room's humidity at half past each hour, and no temperature."""
        self._read(room, range(from_h * 60 + 30, until_h * 60, 60), None, pct)

    def _read(self, room: str, minutes: range, c: Course | None, pct: Course | None) -> None:
        readings = [
            Reading(
                sensor=f"S-{room}",
                at=after(minute / 60),
                temperature_c=None if c is None else round(c(minute / 60), 3),
                humidity_pct=None if pct is None else round(pct(minute / 60), 3),
            )
            for minute in minutes
        ]
        told = tell_readings(self.store, MANAGER, readings, AirRule(), self.now)
        assert told.recorded == len(readings), told.refused[:1]

    def roll(self) -> None:
        """Roll up all that is due, here and now."""
        with self.store.writing() as tx:
            roll_due(tx, AirRule(), lambda _done, _of: None)

    # --- cheese -------------------------------------------------------------------------------

    def hooped(
        self,
        count: int = 1,
        *,
        room: str = "CAVE",
        milk: MilkTreatment | None = "raw",
        made_h: float = 0,
    ) -> list[str]:
        """Milk, a make of it, and its wheels of 8,000 g; gives their codes."""
        dairy = self.dairy
        received = dairy.milk(count * 20_000)
        made = dairy.event(
            Make,
            at=after(made_h),
            product="CURD",
            vat="VAT",
            lot=dairy.code("make"),
            inputs=[Input(lot=received.lot or "", mass_g=count * 20_000)],
            heat=None if milk is None else Heat(treatment=milk),
        )
        hoop = dairy.event(
            Hoop,
            at=after(made_h + HOOPED_H),
            make=made.lot,
            product="BLUE",
            room=room,
            wheels=[NewWheel(lot=dairy.code("wheel"), mass_g=8_000) for _ in range(count)],
            finished=True,
        )
        self.tell(dairy.event(type(received), **_fields(received, at=after(made_h - 2))), made)
        self.tell(hoop)
        return [wheel.lot or "" for wheel in hoop.wheels]

    def move(self, lot: str, hours: float, room: str, site: str = "QM") -> Move:
        """A move, not told yet."""
        moved: Move = self.event(Move, hours, lots=[lot], room=room, site=site)
        return moved

    def cut(self, lot: str, hours: float, *pieces: Piece, **fields: Any) -> list[str]:
        """Cut a lot in room CAVE, unless said otherwise; gives the pieces' codes."""
        fields = {"room": "CAVE"} | fields
        self.tell(self.event(Cut, hours, lot=lot, pieces=list(pieces), **fields))
        return [piece.lot or "" for piece in pieces]

    def sell(self, lot: str, hours: float, to: str = "SHOP-A", **line: Any) -> Dispatch:
        """Send a lot, or a part of it, to a customer."""
        sold: Dispatch = self.event(
            Dispatch,
            hours,
            lines=[Line(lot=lot, **line)],
            to=to,
            document=Document(number=f"DN-{hours:g}-{to}"),
        )
        self.tell(sold)
        return sold

    def correct(self, wrong: Event, replacement: Any = None) -> None:
        """Say that an event was wrong, and perhaps what stands for it."""
        self.tell(
            self.dairy.event(
                Correct, event=wrong.id, reason="misread", replacement=replacement, at=wrong.at
            )
        )

    # --- asking -------------------------------------------------------------------------------

    def ask(self, lot: str, caller: Caller = MANAGER, **params: Any) -> ConditionsAnswer:
        """Ask for a lot's conditions; hours and unobserved spans must add up on every path."""
        answer = self.service.conditions(caller, lot, ConditionsParams(**params))
        for path in answer.paths:
            figures = path.figures
            hours = (path.until_at - path.from_at) / timedelta(hours=1)
            missing = sum(span.hours for span in path.unobserved)
            assert abs(figures.hours - hours) < 1e-5
            assert abs(figures.observed_hours + figures.unobserved_hours - hours) < 1e-5
            assert abs(figures.unobserved_hours - missing) < 1e-4
        return answer

    def path(self, lot: str, caller: Caller = MANAGER, **params: Any) -> ConditionPath:
        """Ask for a lot's only path."""
        (path,) = self.ask(lot, caller, **params).paths
        return path


def _entries(dairy: Dairy) -> list[RegisterEntry]:
    return [event.entry for event in dairy.declared() if isinstance(event, Declare)]


def _fields(event: Any, **changed: Any) -> dict[str, Any]:
    fields = {name: getattr(event, name) for name in event.__struct_fields__}
    return {**fields, **changed}


@contextmanager
def opened(store: Store, **settings: Any) -> Iterator[Vaults]:
    """The dairy with everything declared, on a service that runs."""
    vaults = Vaults(store, **settings)
    vaults.service.start()
    try:
        vaults.declare(*_entries(vaults.dairy))
        sensor = Sensor(code="S-CAVE", name="Sensor CAVE", room="CAVE")
        store_sensor = Sensor(code="S-STORE", name="Sensor STORE", room="STORE")
        vaults.declare(sensor, store_sensor)
        vaults.now = after(days=91)
        yield vaults
    finally:
        vaults.service.stop(ANSWER_S)
