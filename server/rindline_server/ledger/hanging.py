"""Where sensors hang and which limits a room has, by time, as the registers declare it.

The first declaration of an entry also holds for all time before it (as in
:func:`~rindline_server.ledger.lookups.entry_at`), the last one until further notice; what a
declaration leaves as it was begins no new span.
"""

from collections.abc import Iterable
from itertools import groupby
from typing import NamedTuple, TypeVar

from rindline_schema.registers import Room, Sensor
from rindline_server.calc.air import NO_LIMITS, Limits, LimitSpan
from rindline_server.ledger.world import Registers, Version

__all__ = ["FIRST_US", "LAST_US", "Hanging", "hangings", "hangings_of", "limits_of", "stays"]

FIRST_US = -(2**62)
"""Where the span of a first declaration begins: before all time."""

LAST_US = 2**62
"""Where the span of a last declaration ends: after all time."""

_T = TypeVar("_T")


class Hanging(NamedTuple):
    """A sensor's time in a room (``from_us`` <= at < ``until_us``) with the same offsets.

    The offsets are added to what it shows. ``event`` is the declaration that says so.
    """

    sensor: str
    room: str
    from_us: int
    until_us: int
    offset_c: float
    offset_pct: float
    event: str


def hangings(registers: Registers, room: str) -> list[Hanging]:
    """Give the times of all sensors that ever hung in a room, by sensor and time."""
    there = [
        hanging
        for (register, code), versions in registers.items()
        # Most sensors hang elsewhere: a quick look spares them the rest.
        if register == "sensor" and _ever_in(versions, room)
        for hanging in _hangings(code, versions)
        if hanging.room == room
    ]
    return sorted(there)


def _ever_in(versions: Iterable[Version], room: str) -> bool:
    for version in versions:
        if isinstance(version.entry, Sensor) and version.entry.room == room:
            return True
    return False


def hangings_of(registers: Registers, sensor: str) -> list[Hanging]:
    """Give where a sensor hung all its time; none if it was never declared."""
    return _hangings(sensor, registers.get(("sensor", sensor), ()))


def stays(there: Iterable[Hanging]) -> list[list[Hanging]]:
    """Put together what follows on one another in one room: a sensor that stays, offset or not."""
    found: list[list[Hanging]] = []
    for one in there:
        last = found[-1][-1] if found else None
        if last and (last.sensor, last.room, last.until_us) == (one.sensor, one.room, one.from_us):
            found[-1].append(one)
        else:
            found.append([one])
    return found


def _hangings(sensor: str, versions: Iterable[Version]) -> list[Hanging]:
    declared = (
        (version.at_us, (entry.room, entry.offset_c, entry.offset_humidity_pct), version.event)
        for version in versions
        if isinstance(entry := version.entry, Sensor)
    )
    return [
        Hanging(sensor, room, from_us, until_us, offset_c, offset_pct, event)
        for from_us, until_us, (room, offset_c, offset_pct), event in _spans(declared)
    ]


def limits_of(registers: Registers, room: str) -> list[LimitSpan]:
    """Give the limits of a room for all time; one span without any if it was never declared."""
    declared = (
        (version.at_us, _limits(entry), version.event)
        for version in registers.get(("room", room), ())
        if isinstance(entry := version.entry, Room)
    )
    spans = [(from_us, until_us, limits) for from_us, until_us, limits, _ in _spans(declared)]
    return spans or [(FIRST_US, LAST_US, NO_LIMITS)]


def _limits(room: Room) -> Limits:
    return Limits(room.least_c, room.most_c, room.least_humidity_pct, room.most_humidity_pct)


def _spans(declared: Iterable[tuple[int, _T, str]]) -> list[tuple[int, int, _T, str]]:
    """Turn (from, what, event) in order of time into (from, until, what, event) of all time."""
    # Of several declarations for the same time the last one counts, as everywhere.
    counting = [list(same)[-1] for _, same in groupby(declared, key=lambda one: one[0])]
    changes = [next(same) for _, same in groupby(counting, key=lambda one: one[1])]
    if not changes:
        return []
    begins = [FIRST_US, *(at_us for at_us, _, _ in changes[1:])]
    ends = [*begins[1:], LAST_US]
    return [
        (from_us, until_us, what, event)
        for from_us, until_us, (_, what, event) in zip(begins, ends, changes, strict=True)
    ]
