"""What goes wrong with the air: a compressor, a door, a stuck sensor, a gap, a sensor knocked.

Each in a room where wheels lie at that time, in the whole story and in the small one.
"""

import math
from datetime import datetime
from typing import NamedTuple

from rindline_schema.events import Declare
from rindline_schema.registers import Sensor
from rindline_server.demo.dates import at
from rindline_server.demo.journal import Journal
from rindline_server.demo.registers import DAIRY, ENTRIES

__all__ = [
    "COMPRESSOR",
    "DOOR",
    "GAP",
    "KNOCKED",
    "KNOCKED_C",
    "STUCK",
    "Incident",
    "knocked_c",
    "shift",
    "tell_calibration",
]

_HOUR = 60
_DAY = 24 * _HOUR


class Incident(NamedTuple):
    """Something amiss in a room; the minutes count from the first of day 0."""

    room: str
    from_minute: int
    until_minute: int

    @property
    def from_at(self) -> datetime:
        """When it begins."""
        return at(0, 0, self.from_minute)

    @property
    def until_at(self) -> datetime:
        """When it is put right; the air takes longer."""
        return at(0, 0, self.until_minute)

    def has(self, minute: int) -> bool:
        """Tell whether it lasts at a minute."""
        return self.from_minute <= minute < self.until_minute


COMPRESSOR = Incident("QS-SOUTH", 45 * _DAY + 220, 46 * _DAY + 310)
"""The vault's compressor fails at night and is mended a day later."""

DOOR = Incident("QM-R1", 20 * _DAY + 1045, 20 * _DAY + 1325)
"""The door to the dry passage is left open for an evening."""

STUCK = Incident("QM-R2", 40 * _DAY + 420, 44 * _DAY + 540)
"""The sensor shows the same values for four days."""

GAP = Incident("QS-NORTH", 50 * _DAY + 540, 52 * _DAY + 540)
"""The logger's battery is empty: no readings for two days."""

KNOCKED = Incident("QM-R1", 10 * _DAY + 540, 84 * _DAY)
"""The sensor was knocked with a shelf and has shown too much since; found out at the very end."""

KNOCKED_C = 0.5

# How far the air goes, in degrees and in %, and with which time constants, in minutes. Common
# sense, no source: a full vault warms slowly, a door lets the damp out at once.
_WARMS_C, _DAMPENS_PCT, _WARMS_MINUTES, _COOLS_MINUTES = 8.0, 2.0, 9 * _HOUR, 3 * _HOUR
_DOOR_C, _DOOR_PCT, _DOOR_MINUTES, _SHUT_MINUTES = 1.4, -16.0, 40, 50


def shift(room: str, minute: int) -> tuple[float, float]:
    """Give how much warmer (°C) and damper (%) the air of a room is for what went wrong."""
    if room == COMPRESSOR.room:
        part = _course(COMPRESSOR, minute, _WARMS_MINUTES, _COOLS_MINUTES)
        return _WARMS_C * part, _DAMPENS_PCT * part
    if room == DOOR.room:
        part = _course(DOOR, minute, _DOOR_MINUTES, _SHUT_MINUTES)
        return _DOOR_C * part, _DOOR_PCT * part
    return 0.0, 0.0


def knocked_c(room: str, minute: int) -> float:
    """Give how many degrees too many the room's sensor shows."""
    return KNOCKED_C if room == KNOCKED.room and KNOCKED.has(minute) else 0.0


def tell_calibration(journal: Journal) -> Declare:
    """Give the sheet of the calibration, which says since when the knocked sensor is wrong.

    It is told when all readings are there, so it isn't in the journal.
    """
    sensor = next(e for e in ENTRIES if isinstance(e, Sensor) and e.room == KNOCKED.room)
    return Declare(
        id=journal.new_id(KNOCKED.from_at),
        at=KNOCKED.from_at,
        site=DAIRY,
        entry=Sensor(code=sensor.code, name=sensor.name, room=sensor.room, offset_c=-KNOCKED_C),
        note="Found at the calibration after twelve weeks: knocked with a shelf on that day.",
    )


def _course(incident: Incident, minute: int, out_minutes: int, back_minutes: int) -> float:
    """Give which part of the way the air has gone: out while it lasts, then back."""
    gone = minute - incident.from_minute
    if gone <= 0:
        return 0.0
    lasted = incident.until_minute - incident.from_minute
    part = 1 - math.exp(-min(gone, lasted) / out_minutes)
    return part * math.exp(-max(gone - lasted, 0) / back_minutes)
