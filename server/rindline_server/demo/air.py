"""The air of every room for twelve weeks, as its sensor showed it.

Each room has its own warmth and damp, a rhythm of the day, the strokes of its cooling, a slow
drift, and the noise and the steps of its sensor (common sense, no source). The same scale gives
the same readings every time.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

from rindline_schema.answers import Reading
from rindline_schema.registers import Sensor
from rindline_server.demo.air_incidents import GAP, STUCK, knocked_c, shift
from rindline_server.demo.dates import LAST_DAY, at
from rindline_server.demo.journal import Dice
from rindline_server.demo.registers import CUTTING, DAIRY, ENTRIES, STORE
from rindline_server.demo.scale import Scale

__all__ = ["count_readings", "readings_of"]

_DAY = 24 * 60
_WARMEST = 15 * 60
_COOLING_MINUTES = 47
_STEP_C, _STEP_PCT = 0.1, 0.5
_NOISE_C, _NOISE_PCT = 0.15, 0.9


class _Air(NamedTuple):
    """A room: its site, mean, the reach of its day and of its drift; °C first, then %."""

    site: str
    room: str
    c: float
    daily_c: float
    drift_c: float
    pct: float
    daily_pct: float
    drift_pct: float


_AIRS = (
    _Air(DAIRY, "QM-MILK", 3.6, 0.4, 0.3, 74.0, 2.0, 3.0),
    _Air(DAIRY, "QM-DRY", 15.5, 0.9, 1.3, 52.0, 2.0, 5.0),
    _Air(DAIRY, "QM-VAT", 21.0, 2.2, 0.8, 62.0, 6.0, 4.0),
    _Air(DAIRY, "QM-HOOP", 20.1, 0.6, 0.4, 82.0, 2.0, 2.5),
    _Air(DAIRY, "QM-R1", 11.8, 0.2, 0.5, 90.0, 0.6, 1.6),
    _Air(DAIRY, "QM-R2", 11.4, 0.2, 0.5, 89.5, 0.6, 1.6),
    _Air(STORE, "QS-NORTH", 11.2, 0.1, 0.4, 91.0, 0.4, 1.3),
    _Air(STORE, "QS-SOUTH", 12.2, 0.2, 0.5, 90.5, 0.5, 1.3),
    _Air(CUTTING, "QC-WHEELS", 6.0, 0.3, 0.4, 83.0, 1.5, 2.0),
    _Air(CUTTING, "QC-CUT", 10.0, 0.6, 0.4, 68.0, 4.0, 3.0),
    _Air(CUTTING, "QC-CHILL", 3.5, 0.2, 0.3, 80.0, 1.5, 2.0),
)

_SENSORS = {entry.room: entry.code for entry in ENTRIES if isinstance(entry, Sensor)}


def readings_of(site: str, scale: Scale) -> Iterator[Reading]:
    """Give what the sensors of a site showed, day by day and sensor by sensor."""
    courses = [_Course(air, scale) for air in _AIRS if air.site == site]
    for day in range(LAST_DAY + 1):
        for course in courses:
            yield from course.day(day)


def count_readings(scale: Scale) -> int:
    """Give how many readings all sensors took."""
    each = (LAST_DAY + 1) * _DAY // scale.reading_minutes
    missing = (GAP.until_minute - GAP.from_minute) // scale.reading_minutes
    return each * len(_AIRS) - missing


class _Course:
    """One room's air; ask for one day after the other."""

    def __init__(self, air: _Air, scale: Scale) -> None:
        self._air = air
        self._sensor = _SENSORS[air.room]
        self._every = scale.reading_minutes
        self._dice = Dice(f"The air of {air.room}, {scale.name}")
        # When each wave of the drift begins, and where in a stroke of the cooling the story does.
        self._waves = [(days * _DAY, self._dice.between(0, days * _DAY)) for days in (23, 9, 23, 9)]
        self._stroke = self._dice.between(0, _COOLING_MINUTES - 1)
        self._held: tuple[float, float] | None = None

    def day(self, day: int) -> Iterator[Reading]:
        for minute in range(day * _DAY, (day + 1) * _DAY, self._every):
            c, pct = self._shown(minute)
            if self._air.room == GAP.room and GAP.has(minute):
                continue
            yield Reading(
                sensor=self._sensor, at=at(0, 0, minute), temperature_c=c, humidity_pct=pct
            )

    def _shown(self, minute: int) -> tuple[float, float]:
        """Give what the sensor shows: the air in its own steps, with its noise and errors."""
        c, pct = self._true(minute)
        c += knocked_c(self._air.room, minute) + self._dice.spread(0, _NOISE_C)
        pct += self._dice.spread(0, _NOISE_PCT)
        shown = _in_steps(c, _STEP_C), _in_steps(pct, _STEP_PCT)
        if self._air.room != STUCK.room or not STUCK.has(minute):
            self._held = None
            return shown
        if self._held is None:
            self._held = shown
        return self._held

    def _true(self, minute: int) -> tuple[float, float]:
        air = self._air
        day = math.cos(math.tau * (minute % _DAY - _WARMEST) / _DAY)
        stroke = (minute + self._stroke) % _COOLING_MINUTES / _COOLING_MINUTES - 0.5
        waves = [math.sin(math.tau * (minute - start) / length) for length, start in self._waves]
        off_c, off_pct = shift(air.room, minute)
        c = air.c + air.daily_c * day + air.drift_c * (waves[0] + waves[1]) / 2 + 0.2 * stroke
        # Warmer air is drier.
        pct = air.pct - air.daily_pct * day + air.drift_pct * (waves[2] + waves[3]) / 2 - stroke
        return c + off_c, pct + off_pct


def _in_steps(value: float, step: float) -> float:
    return round(round(value / step) * step, 1)
