"""Readings of sensors: what a logger sends, what it is answered, and how each sensor is doing."""

from datetime import datetime
from typing import Annotated, Literal

from msgspec import Meta

from rindline_schema.answers.telling import Answer
from rindline_schema.events.base import Part
from rindline_schema.problems import Problem
from rindline_schema.quantities import Code, Time

__all__ = [
    "MAX_READINGS",
    "Doubt",
    "DoubtKind",
    "Reading",
    "ReadingBatch",
    "ReadingsAnswer",
    "RefusedReading",
    "SensorPage",
    "SensorState",
]

MAX_READINGS = 10_000
"""How many readings one request may carry."""

_AirCelsius = Annotated[
    float,
    Meta(ge=-40, le=85, description="Temperature of the air in degrees Celsius, kept to 0.001."),
]
_AirHumidity = Annotated[
    float, Meta(ge=0, le=100, description="Relative humidity of the air in %, kept to 0.001.")
]

DoubtKind = Literal["stuck", "jump", "saturated"]
"""Why a reading is hard to believe: the very same value for long, a sudden step and back or
away, or a humidity of 100 % for days."""


class Reading(Part, kw_only=True, frozen=True):
    """What a sensor showed at a time: temperature, humidity, or both; without any offset.

    Sensor and time are its identity: told again with the same values it is recorded once.
    """

    sensor: Code
    at: Time
    temperature_c: _AirCelsius | None = None
    humidity_pct: _AirHumidity | None = None


class ReadingBatch(Part, kw_only=True, frozen=True):
    """Readings of one or several sensors, in any order."""

    readings: Annotated[list[Reading], Meta(min_length=1, max_length=MAX_READINGS)]


class RefusedReading(Answer, kw_only=True, frozen=True):
    """A reading that was not recorded: its place in the batch (from 0), and why."""

    index: int
    problem: Problem


class Doubt(Answer, kw_only=True, frozen=True):
    """Readings that are kept and counted, but hard to believe: a person should look."""

    sensor: str
    kind: DoubtKind
    from_at: datetime
    until_at: datetime
    detail: str


class ReadingsAnswer(Answer, kw_only=True, frozen=True):
    """What became of a batch, once it is on disk.

    ``repeated`` were there already, with the same values. ``doubts`` are those this batch shows
    by itself; those that rest on earlier readings too stand in the list of sensors.
    """

    recorded: int
    repeated: int
    refused: list[RefusedReading] = []
    doubts: list[Doubt] = []


class SensorState(Answer, kw_only=True, frozen=True):
    """A sensor: where it hangs since when, what it showed last (no offset applied), its doubts.

    ``silent_minutes`` is how long ago its last reading was taken.
    """

    sensor: str
    name: str
    room: str
    site: str | None = None
    since: datetime
    offset_c: float = 0.0
    offset_humidity_pct: float = 0.0
    last_at: datetime | None = None
    last_temperature_c: float | None = None
    last_humidity_pct: float | None = None
    silent_minutes: float | None = None
    doubts: list[Doubt] = []


class SensorPage(Answer, kw_only=True, frozen=True):
    """The sensors, by code; of each the last 20 doubts."""

    sensors: list[SensorState]
    as_of: int
    next_cursor: str | None = None
