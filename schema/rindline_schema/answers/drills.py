"""A recall drill: what is asked, and the answer that is kept."""

from datetime import datetime
from typing import Annotated, Literal
from uuid import UUID

from msgspec import Meta

from rindline_schema.answers.lots import Discrepancy
from rindline_schema.answers.stations import StationState
from rindline_schema.answers.telling import Answer
from rindline_schema.answers.traces import KindCount
from rindline_schema.events.base import Part
from rindline_schema.quantities import LongText, LotCode

__all__ = [
    "CustomerHolds",
    "DocumentLine",
    "DrillAnswer",
    "DrillPage",
    "DrillRequest",
    "DrillSummary",
    "SiteHolds",
    "StageBalance",
    "TransitHolds",
]

DrillDirection = Literal["back", "forward", "both"]


class DrillRequest(Part, kw_only=True, frozen=True):
    """A drill from some lots; ``purpose`` is ``live`` for a real withdrawal or recall."""

    id: UUID
    lots: Annotated[list[LotCode], Meta(min_length=1, max_length=1000)]
    direction: DrillDirection = "both"
    purpose: Literal["drill", "live"] = "drill"
    reason: LongText | None = None


class SiteHolds(Answer, kw_only=True, frozen=True):
    """On hand in one room of one site."""

    site: str
    room: str | None = None
    lots: int
    count: int
    mass_g: int


class TransitHolds(Answer, kw_only=True, frozen=True):
    """On the way under one document."""

    document: str
    to_site: str | None = None
    lots: int
    count: int
    mass_g: int


class DocumentLine(Answer, kw_only=True, frozen=True):
    """One document to a customer, and how much of the traced lots it carried."""

    number: str
    kind: str
    dispatched_at: datetime
    lots: int
    count: int
    mass_g: int


class CustomerHolds(Answer, kw_only=True, frozen=True):
    """What a customer holds of the traced lots, returns taken off, and by which documents."""

    customer: str
    name: str | None = None
    address: str | None = None
    lots: int
    count: int
    mass_g: int
    documents: list[DocumentLine] = []


class StageBalance(Answer, kw_only=True, frozen=True):
    """Mass balance of one kind of lot among those traced, in grams.

    ``made_g`` = ``on_hand_g`` + ``in_transit_g`` + ``with_customers_g`` + ``into_lots_g`` +
    ``drained_g`` + ``ripening_loss_g`` + ``cutting_loss_g`` + ``samples_g`` + ``discarded_g`` +
    ``unaccounted_g``, to the gram. Of ``into_lots_g``, ``into_traced_g`` went into lots that are
    in this trace and ``into_trim_g`` into trim. ``accounted_pct`` is 100 less the unaccounted
    share.
    """

    kind: Literal["milk", "ingredient", "make", "wheel", "portion", "trim", "blend"]
    lots: int
    made_g: int
    on_hand_g: int
    in_transit_g: int
    with_customers_g: int
    into_lots_g: int
    into_traced_g: int
    into_trim_g: int
    drained_g: int
    ripening_loss_g: int
    cutting_loss_g: int
    samples_g: int
    discarded_g: int
    unaccounted_g: int
    accounted_pct: float


class DrillAnswer(Answer, kw_only=True, frozen=True):
    """A finished drill, as it was answered at the time and is kept.

    ``stations_behind`` are the stations that hold events back, or whose numbers have gaps: what
    they have not told yet is not in these figures.
    """

    id: UUID
    purpose: Literal["drill", "live"]
    direction: DrillDirection
    lots: list[str]
    asked_at: datetime
    asked_by: str
    took_ms: int
    as_of: int
    counts: list[KindCount]
    on_hand: list[SiteHolds]
    in_transit: list[TransitHolds]
    customers: list[CustomerHolds]
    stages: list[StageBalance]
    pending: list[str]
    discrepancies: list[Discrepancy]
    held_lots: int
    safety_note: str
    reason: str | None = None
    replay: bool = False
    stations_behind: list[StationState] = []


class DrillSummary(Answer, kw_only=True, frozen=True):
    """A drill in the list of drills."""

    id: UUID
    purpose: Literal["drill", "live"]
    direction: DrillDirection
    lots: list[str]
    asked_at: datetime
    asked_by: str
    took_ms: int
    as_of: int


class DrillPage(Answer, kw_only=True, frozen=True):
    """Drills, newest first."""

    drills: list[DrillSummary]
    next_cursor: str | None = None
