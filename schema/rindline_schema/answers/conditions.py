"""The conditions a lot lived in: its path through rooms, what was done along it, its ages."""

from datetime import date, datetime

from rindline_schema.answers.climate import AirFigures, HourOfAir, SensorSpan, UnobservedSpan
from rindline_schema.answers.readings import Doubt
from rindline_schema.answers.telling import Answer
from rindline_schema.registers import LotKind, MilkTreatment

__all__ = [
    "Ages",
    "ConditionPath",
    "ConditionsAnswer",
    "Handling",
    "SixtyDays",
    "StayConditions",
]


class StayConditions(Answer, kw_only=True, frozen=True):
    """One stay in a room and the air there; ``lot`` is whose stay (the wheel's, the portion's).

    ``still_there`` if it has not ended; ``until_at`` is then the time of the answer.
    """

    lot: str
    site: str
    from_at: datetime
    until_at: datetime
    figures: AirFigures
    room: str | None = None
    room_name: str | None = None
    still_there: bool = False


class Handling(Answer, kw_only=True, frozen=True):
    """Something done along the path: a tending, a weighing, an ironing, a cut, a sale.

    ``kind`` is turn, brush, rub, wash, pierce, weigh, iron, cut, sale. ``age_days`` counts from
    the make (from hooping where the make is not known).
    """

    kind: str
    lot: str
    at: datetime
    age_days: float
    event_id: str
    tool: str | None = None
    holes: int | None = None
    mass_g: int | None = None
    body: int | None = None
    texture: int | None = None
    blueing: int | None = None
    coat: int | None = None
    flavour: int | None = None
    grade: str | None = None


class Ages(Answer, kw_only=True, frozen=True):
    """Ages in whole days of 24 hours since ``counted_from`` (make, or hooping if unknown)."""

    counted_from: datetime
    counted_from_what: str
    at_piercing_days: int | None = None
    at_cutting_days: int | None = None
    at_sale_days: int | None = None
    now_days: int | None = None


class SixtyDays(Answer, kw_only=True, frozen=True):
    """The arithmetic of the 60 days that 21 CFR 133 asks of cheese from raw milk.

    Figures, not a permission: ``days`` from the make to the sale (or to now, while unsold), how
    many more or fewer than asked, how long it was colder than ``least_c`` meanwhile and how long
    nobody measured. Whether a colder hour stops the clock is left open: ``below_hours`` stand
    beside. ``applies`` is missing where the milk's treatment is not known.
    """

    regulation: str
    read_on: date
    asked_days: int
    least_c: float
    counted_until: datetime
    counted_until_what: str
    days: float
    days_over: float
    below_hours: float
    unobserved_hours: float
    wording: str
    applies: bool | None = None
    milk_treatment: MilkTreatment | None = None


class ConditionPath(Answer, kw_only=True, frozen=True):
    """One way from a hooped wheel down to the lot: ``lots`` from the wheel to the lot itself.

    ``figures`` are those of the whole path from hooping on; ``sensors`` whose readings they rest
    on. ``series`` if asked for.
    """

    lots: list[str]
    from_at: datetime
    until_at: datetime
    stays: list[StayConditions]
    figures: AirFigures
    ages: Ages
    handlings: list[Handling] = []
    unobserved: list[UnobservedSpan] = []
    doubts: list[Doubt] = []
    sensors: list[SensorSpan] = []
    series: list[HourOfAir] = []
    sixty_days: SixtyDays | None = None
    make: str | None = None


class ConditionsAnswer(Answer, kw_only=True, frozen=True):
    """The conditions of a lot: one path for a wheel or portion, one per input for a blend.

    ``in_words`` says the first path in a sentence for a shop. Of very many inputs the first 100
    are given; ``paths_left_out`` counts the others.
    """

    lot: str
    kind: LotKind
    at: datetime
    as_of: int
    safety_note: str
    rule: str
    longest_gap_minutes: float
    paths: list[ConditionPath]
    in_words: str
    product: str | None = None
    product_name: str | None = None
    paths_left_out: int = 0
    notes: list[str] = []
