"""An invented dairy's rooms, one wheel moved through some of them, and what its sensors showed."""

import math
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any
from uuid import UUID

from rindline_schema.answers import Reading
from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.events import (
    Declare,
    Dispatch,
    Document,
    Event,
    Hoop,
    Input,
    Iron,
    Line,
    Make,
    Move,
    NewWheel,
    Receive,
    Tend,
    Weigh,
)
from rindline_schema.registers import Partner, Product, RegisterEntry, Room, Sensor, Site, Tool
from rindline_schema.uuid7 import uuid7

__all__ = ["END", "ROOMS_OF_WHEEL", "AirStory", "readings", "room_code", "sensor_code"]

ROOMS_OF_WHEEL = 4

END = datetime(2025, 6, 2, 6, tzinfo=UTC)
"""When the wheel is sold; the readings told while measuring are of the time after."""

_SITE = "QM"
_WHEEL_G = 11_000


def room_code(number: int) -> str:
    """Give the code of a room."""
    return f"ROOM-{number:02}"


def sensor_code(number: int) -> str:
    """Give the code of the sensor in a room."""
    return f"SENSOR-{number:02}"


def readings(
    rooms: Sequence[int], from_at: datetime, until_at: datetime, every_minutes: int
) -> Iterator[Reading]:
    """Give what the sensors of some rooms showed, in order of time, both values each."""
    steps = int((until_at - from_at) / timedelta(minutes=every_minutes))
    noise = Random(f"{rooms} {from_at}").random
    for step in range(steps):
        at = from_at + timedelta(minutes=step * every_minutes)
        minutes = step * every_minutes
        # By the day and by the fortnight; now and then both together are too warm.
        warmth = 11.8 + 0.8 * math.sin(minutes / 229) + 0.8 * math.sin(minutes / 3209)
        for room in rooms:
            c = round(warmth + room * 0.1 + noise() * 0.3, 1)
            pct = round(90 - 2 * (c - 12) + noise() * 2, 1)
            yield Reading(sensor=sensor_code(room), at=at, temperature_c=c, humidity_pct=pct)


class AirStory:
    """The events of a dairy of so many rooms with one wheel, which lives so many weeks.

    The dairy begins some weeks before. The wheel lies in four rooms by turns, is hooped in the
    first and comes back to it. ``wheel`` is its code, ``stays`` its rooms with the times.
    """

    def __init__(self, rooms: int, weeks: int, weeks_before: int) -> None:
        self._random = Random("a wheel that never was")
        self._rooms = rooms
        self._life = timedelta(weeks=weeks)
        self._hooped = END - self._life
        self.begun = self._hooped - timedelta(weeks=weeks_before, days=2)
        self.wheel = self._code("wheel")
        shares = (0.0, 0.07, 0.25, 0.5, 0.75, 1.0)
        times = [self._hooped + self._life * share for share in shares]
        self.stays = [
            (room_code(number % ROOMS_OF_WHEEL), times[number], times[number + 1])
            for number in range(len(times) - 1)
        ]

    def declared(self) -> list[Event]:
        """Give what is declared when the dairy begins."""
        return [self._event(Declare, self.begun, entry=entry) for entry in self._entries()]

    def events(self) -> list[Event]:
        """Give what is told of the wheel, in order."""
        milk, make = self._code("milk"), self._code("make")
        made = self._hooped - timedelta(days=1)
        events: list[Event] = [
            self._event(
                Receive,
                made,
                product="MILK",
                supplier="HERD-A",
                lot=milk,
                mass_g=500_000,
            ),
            self._event(
                Make,
                made + timedelta(hours=1),
                product="CURD",
                vat="VAT-1",
                lot=make,
                inputs=[Input(lot=milk, mass_g=90_000)],
            ),
            self._event(
                Hoop,
                self._hooped,
                make=make,
                product="WHEEL",
                wheels=[NewWheel(lot=self.wheel, mass_g=_WHEEL_G)],
                room=self.stays[0][0],
            ),
        ]
        events += [
            self._event(Move, from_at, lots=[self.wheel], room=room)
            for room, from_at, _ in self.stays[1:]
        ]
        events += self._care()
        events.append(
            self._event(
                Dispatch,
                END,
                lines=[Line(lot=self.wheel)],
                document=Document(number="DN-1"),
                to="SHOP-A",
            )
        )
        return events

    def _care(self) -> list[Event]:
        """Tell of twelve turnings, four weighings, a piercing and an ironing."""
        parts = [self._hooped + self._life * (part / 13) for part in range(1, 13)]
        wheel, hour = self.wheel, timedelta(hours=1)
        return [
            *(self._event(Tend, at, task="turn", lots=[wheel]) for at in parts),
            *(
                self._event(Weigh, at + hour, lot=wheel, mass_g=_WHEEL_G - 300 * number)
                for number, at in enumerate(parts[::3])
            ),
            self._event(Tend, parts[5] + 2 * hour, task="pierce", lots=[wheel], holes=140),
            self._event(Iron, parts[10] + 2 * hour, lot=wheel, body=70, flavour=80, grade="ready"),
        ]

    def _entries(self) -> list[RegisterEntry]:
        numbers = range(self._rooms)
        rooms = [
            Room(
                code=room_code(number),
                name=f"Room {number}",
                site=_SITE,
                least_c=10,
                most_c=13.8,
                least_humidity_pct=85,
                most_humidity_pct=95,
            )
            for number in numbers
        ]
        sensors = [
            Sensor(code=sensor_code(number), name=f"Sensor {number}", room=room_code(number))
            for number in numbers
        ]
        return [
            Site(code=_SITE, name="Quillmere dairy"),
            *rooms,
            *sensors,
            Tool(code="VAT-1", name="Vat 1", kind="vat", site=_SITE),
            Partner(code="HERD-A", name="Herd A", roles=["supplier"]),
            Partner(code="SHOP-A", name="Shop A", roles=["customer"]),
            Product(code="MILK", name="Raw cow's milk", kind="milk"),
            Product(code="CURD", name="Curd of Quillmere Blue", kind="make"),
            Product(code="WHEEL", name="Quillmere Blue, wheel", kind="wheel"),
        ]

    def _event(self, kind: Any, at: datetime, **said: Any) -> Event:
        event: Event = kind(id=self._id(at), at=at, site=_SITE, **said)
        return event

    def _id(self, at: datetime) -> UUID:
        return uuid7(int(at.timestamp() * 1000), self._random.randbytes(10))

    def _code(self, kind: str) -> str:
        prefix = lot_code_prefix(_SITE, self._hooped.date(), kind)
        return next(code for serial in range(1, 99) if (code := lot_code(prefix, serial)))
