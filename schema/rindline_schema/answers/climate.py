"""The air of a room over a time: its figures, limits, gaps, and what they rest on."""

from datetime import datetime

from rindline_schema.answers.readings import Doubt
from rindline_schema.answers.telling import Answer

__all__ = [
    "AirFigures",
    "AirSpell",
    "ClimateAnswer",
    "HourOfAir",
    "HumidityFigures",
    "OutsideMinutes",
    "RoomLimits",
    "SensorSpan",
    "TemperatureFigures",
    "UnobservedSpan",
]


class TemperatureFigures(Answer, kw_only=True, frozen=True):
    """Temperature in degrees Celsius over the observed time.

    Mean and percentiles are weighted by time; percentiles are exact to 0.1 degrees.
    """

    mean_c: float
    least_c: float
    most_c: float
    p05_c: float
    p50_c: float
    p95_c: float


class HumidityFigures(Answer, kw_only=True, frozen=True):
    """Relative humidity in % over the observed time; percentiles are exact to 0.5 %."""

    mean_pct: float
    least_pct: float
    most_pct: float
    p05_pct: float
    p50_pct: float
    p95_pct: float


class OutsideMinutes(Answer, kw_only=True, frozen=True):
    """Minutes outside the limits that were declared for the room at that time."""

    too_cold_minutes: float = 0.0
    too_warm_minutes: float = 0.0
    too_dry_minutes: float = 0.0
    too_damp_minutes: float = 0.0


class AirSpell(Answer, kw_only=True, frozen=True):
    """One unbroken time outside a limit: the limit and the worst value, in its own unit.

    ``what`` is too_cold, too_warm, too_dry or too_damp.
    """

    what: str
    room: str
    from_at: datetime
    until_at: datetime
    minutes: float
    limit_c: float | None = None
    worst_c: float | None = None
    limit_humidity_pct: float | None = None
    worst_humidity_pct: float | None = None


class UnobservedSpan(Answer, kw_only=True, frozen=True):
    """A time for which there is no air: no reading for longer than is bridged, or no room told.

    ``why`` is no_reading, no_room (the room was not told) or away (between two sites, or with
    a partner).
    """

    why: str
    from_at: datetime
    until_at: datetime
    hours: float
    room: str | None = None


class AirFigures(Answer, kw_only=True, frozen=True):
    """Figures of the air over a time. Means hold for the observed hours, never for the others.

    ``hours`` = ``observed_hours`` (of temperature) + ``unobserved_hours``. ``doubtful_hours`` of
    the observed ones rest on readings in doubt. ``outside`` and ``spells`` go by the limits
    declared at the time; ``spells`` are the first 200, ``spell_count`` counts all.
    """

    hours: float
    observed_hours: float
    unobserved_hours: float
    humidity_observed_hours: float
    readings: int
    degree_hours_base_c: float
    degree_hours_c_h: float = 0.0
    doubtful_hours: float = 0.0
    temperature: TemperatureFigures | None = None
    humidity: HumidityFigures | None = None
    dew_point_mean_c: float | None = None
    vapour_pressure_deficit_mean_kpa: float | None = None
    vapour_pressure_deficit_kpa_h: float | None = None
    mean_kinetic_temperature_c: float | None = None
    outside: OutsideMinutes = OutsideMinutes()
    spells: list[AirSpell] = []
    spell_count: int = 0


class HourOfAir(Answer, kw_only=True, frozen=True):
    """One hour (or day) of a room's air; a quantity that was not observed is missing."""

    at: datetime
    hours: float
    room: str | None = None
    mean_c: float | None = None
    least_c: float | None = None
    most_c: float | None = None
    mean_humidity_pct: float | None = None
    least_humidity_pct: float | None = None
    most_humidity_pct: float | None = None
    observed_minutes: float = 0.0
    outside_minutes: float = 0.0


class RoomLimits(Answer, kw_only=True, frozen=True):
    """The limits declared for a room, and for which time."""

    from_at: datetime
    until_at: datetime
    least_c: float | None = None
    most_c: float | None = None
    least_humidity_pct: float | None = None
    most_humidity_pct: float | None = None


class SensorSpan(Answer, kw_only=True, frozen=True):
    """A sensor's time in the room, and the offsets added to what it showed.

    ``told_at`` is when the declaration was recorded; ``told_later`` if readings it applies to
    were there before.
    """

    sensor: str
    from_at: datetime
    until_at: datetime
    offset_c: float = 0.0
    offset_humidity_pct: float = 0.0
    told_at: datetime | None = None
    told_later: bool = False


class ClimateAnswer(Answer, kw_only=True, frozen=True):
    """The air of a room from one time to another.

    ``rule`` names how readings are integrated. ``notes`` says in words what a reader of the
    figures must know: offsets declared afterwards, sensors in doubt, hours without a reading.
    """

    room: str
    name: str
    site: str
    from_at: datetime
    until_at: datetime
    as_of: int
    safety_note: str
    rule: str
    longest_gap_minutes: float
    figures: AirFigures
    limits: list[RoomLimits] = []
    sensors: list[SensorSpan] = []
    unobserved: list[UnobservedSpan] = []
    doubts: list[Doubt] = []
    series: list[HourOfAir] = []
    notes: list[str] = []
