"""Wheels that ripen in two rooms: what is done to them by days since a morning, told at once."""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from msgspec.structs import replace

from rindline_schema.answers import Reading
from rindline_schema.events import (
    Cut,
    Declare,
    Event,
    Hoop,
    Iron,
    Move,
    NewWheel,
    Sample,
    Tend,
    Weigh,
)
from rindline_schema.registers import RegisterEntry, Room, Sensor
from rindline_server.service import Service
from tests.service.callers import MANAGER, recorded
from tests.service.dairy import Dairy

__all__ = ["BEGIN", "Ripening", "on"]

BEGIN = datetime(2026, 1, 5, 8, tzinfo=UTC)
"""Day 0: the service's clock stands 147 days later."""

_AT_ONCE = 1_000


def on(day: float) -> datetime:
    """A time so many days after the beginning."""
    return BEGIN + timedelta(days=day)


class Ripening:
    """A dairy whose rooms WARM and COOL have a sensor each, S-WARM and S-COOL."""

    def __init__(self, service: Service, **limits: float) -> None:
        """``limits`` are those of both rooms."""
        self.service = service
        self.dairy = Dairy()
        self.hooped: list[Hoop] = []
        self._events: list[Event] = []
        recorded(service, self.dairy.declared())
        for code in ("WARM", "COOL"):
            room = Room(code=code, name=f"Room {code}", site="QM", **limits)
            sensor = Sensor(code=f"S-{code}", name=f"Sensor {code}", room=code)
            self.declare(room)
            self.declare(sensor)
        self.tell()

    def _add(self, kind: Any, day: float, **fields: Any) -> Any:
        event = self.dairy.event(kind, at=on(day), **fields)
        self._events.append(event)
        return event

    def declare(self, entry: RegisterEntry) -> None:
        """A register entry, thirty days before the beginning."""
        self._add(Declare, -30, entry=entry)

    def tell(self) -> None:
        """Record what is not told yet."""
        for start in range(0, len(self._events), _AT_ONCE):
            recorded(self.service, self._events[start : start + _AT_ONCE])
        self._events = []

    # --- wheels -------------------------------------------------------------------------------

    def make(
        self,
        day: float,
        wheels: int = 1,
        *,
        mass_g: int = 11_000,
        room: str = "WARM",
        shelf: str | None = None,
        product: str = "BLUE",
    ) -> tuple[str, list[str]]:
        """A make hooped on a day; its code and those of its wheels."""
        make = self.bare_make(day, wheels * mass_g)
        codes = [self.dairy.code("wheel") for _ in range(wheels)]
        new = [NewWheel(lot=code, mass_g=mass_g, shelf=shelf) for code in codes]
        hoop = self._add(Hoop, day, make=make, product=product, room=room, wheels=new)
        self.hooped.append(hoop)
        return make, codes

    def bare_make(self, day: float, mass_g: int) -> str:
        """A make of a morning without any wheel; its code."""
        milk = self.dairy.milk(mass_g)
        make = self.dairy.make((milk.lot, mass_g))
        early = (replace(milk, at=on(day - 0.25)), replace(make, at=on(day - 0.125)))
        self._events += early
        return make.lot or ""

    def weigh(self, wheel: str, weighings: dict[float, int]) -> None:
        """Weighings in grams by day."""
        for day, mass_g in weighings.items():
            self._add(Weigh, day, lot=wheel, mass_g=mass_g)

    def iron(self, wheel: str, day: float, score: int | None = None, **fields: Any) -> None:
        """An ironing that gives every quality the same score."""
        if score is not None:
            fields |= dict.fromkeys(("body", "texture", "blueing", "coat", "flavour"), score)
        self._add(Iron, day, lot=wheel, **fields)

    def pierce(self, wheels: Sequence[str], day: float, holes: int | None) -> Tend:
        """A piercing."""
        event: Tend = self._add(Tend, day, task="pierce", lots=list(wheels), holes=holes)
        return event

    def turn(self, wheels: Sequence[str], days: Sequence[float]) -> None:
        """Turnings."""
        for day in days:
            self._add(Tend, day, task="turn", lots=list(wheels))

    def move(self, wheel: str, day: float, room: str, shelf: str | None = None) -> None:
        """A move."""
        self._add(Move, day, lots=[wheel], room=room, shelf=shelf)

    def sample(self, wheel: str, day: float, mass_g: int) -> None:
        """A sample for a laboratory."""
        self._add(Sample, day, lot=wheel, reference=f"R-{self.dairy.id()}", mass_g=mass_g)

    def cut(self, wheel: str, day: float, mass_g: int) -> str:
        """A portion cut from a wheel; its code."""
        piece = self.dairy.piece(mass_g)
        self._add(Cut, day, lot=wheel, pieces=[piece])
        return piece.lot or ""

    # --- air ----------------------------------------------------------------------------------

    def read(
        self,
        room: str,
        from_day: float,
        until_day: float,
        c: Callable[[float], float],
        pct: Callable[[float], float],
    ) -> None:
        """What a room's sensor shows each hour, as functions of the day."""
        days = [from_day + n / 24 for n in range(round((until_day - from_day) * 24) + 1)]
        readings = [
            Reading(sensor=f"S-{room}", at=on(day), temperature_c=c(day), humidity_pct=pct(day))
            for day in days
        ]
        told = self.service.tell_readings(MANAGER, readings)
        assert told.recorded == len(readings), told
