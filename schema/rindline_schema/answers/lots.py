"""Answers about lots: one, many, where a lot came from."""

from datetime import datetime
from typing import Literal

from rindline_schema.answers.telling import Answer
from rindline_schema.registers import LotKind, MilkTreatment

__all__ = [
    "Discrepancy",
    "DiscrepancyPage",
    "HeldBecause",
    "Holder",
    "IngredientUsed",
    "Losses",
    "LotAnswer",
    "LotPage",
    "LotState",
    "LotSummary",
    "MakeOfOrigin",
    "MilkShare",
    "OriginAnswer",
    "WheelOfOrigin",
]

LotState = Literal["pending", "on_hand", "in_transit", "with_partners", "used_up"]


class Holder(Answer, kw_only=True, frozen=True):
    """Who holds how much: a site (and room), a document's load in transit, or a partner."""

    where: Literal["site", "transit", "partner"]
    holder: str
    room: str | None = None
    mass_g: int
    count: int


class LotSummary(Answer, kw_only=True, frozen=True):
    """A lot in a list. ``mass_g`` and ``count`` are what our sites and transit hold now."""

    lot: str
    kind: LotKind
    state: LotState
    product: str | None = None
    site: str
    made_at: datetime | None = None
    mass_g: int = 0
    count: int = 0
    held: bool = False


class LotPage(Answer, kw_only=True, frozen=True):
    """A page of lots; ``next_cursor`` is missing on the last one."""

    lots: list[LotSummary]
    as_of: int
    next_cursor: str | None = None


class Losses(Answer, kw_only=True, frozen=True):
    """Where a lot's grams went; made = on hand + transit + partners + all of these."""

    into_lots_g: int = 0
    ripening_loss_g: int = 0
    drained_g: int = 0
    cutting_loss_g: int = 0
    samples_g: int = 0
    discarded_g: int = 0
    unaccounted_g: int = 0


class HeldBecause(Answer, kw_only=True, frozen=True):
    """A hold in force: the lot it was put on, since when, why, and the event that says so."""

    lot: str
    since: datetime
    reason: str
    event_id: str


class Discrepancy(Answer, kw_only=True, frozen=True):
    """A contradiction in the record that a person must look into."""

    discrepancy: str
    kind: str
    lot: str
    detail: str
    grams: int = 0
    event_id: str | None = None
    settled: bool = False
    finding: str | None = None


class DiscrepancyPage(Answer, kw_only=True, frozen=True):
    """Discrepancies, the open ones unless asked otherwise."""

    discrepancies: list[Discrepancy]
    as_of: int
    next_cursor: str | None = None


class LotAnswer(Answer, kw_only=True, frozen=True):
    """All that is known of one lot itself."""

    lot: str
    kind: LotKind
    state: LotState
    site: str
    as_of: int
    product: str | None = None
    product_name: str | None = None
    made_at: datetime | None = None
    made_g: int = 0
    made_count: int = 0
    holders: list[Holder] = []
    losses: Losses = Losses()
    holds: list[HeldBecause] = []
    discrepancies: list[Discrepancy] = []


class MilkShare(Answer, kw_only=True, frozen=True):
    """How much of a lot's milk came from one delivery: parts per million, adding up to 10**6."""

    lot: str
    share_ppm: int
    supplier: str | None = None
    supplier_name: str | None = None
    received_at: datetime | None = None
    pending: bool = False


class IngredientUsed(Answer, kw_only=True, frozen=True):
    """An ingredient lot somewhere in the lot's past."""

    lot: str
    product: str | None = None
    product_name: str | None = None
    supplier: str | None = None
    supplier_name: str | None = None


class WheelOfOrigin(Answer, kw_only=True, frozen=True):
    """A wheel the lot was cut from (or is)."""

    lot: str
    made_at: datetime | None = None
    made_g: int = 0


class MakeOfOrigin(Answer, kw_only=True, frozen=True):
    """A make the lot goes back to: when, where, which heat treatment."""

    lot: str
    site: str
    made_at: datetime | None = None
    milk_treatment: MilkTreatment | None = None


class OriginAnswer(Answer, kw_only=True, frozen=True):
    """The short answer for a shop: where this piece came from."""

    lot: str
    kind: LotKind
    state: LotState
    as_of: int
    safety_note: str
    product: str | None = None
    product_name: str | None = None
    site: str
    made_at: datetime | None = None
    age_days: int | None = None
    made_g: int = 0
    held: bool = False
    holds: list[HeldBecause] = []
    wheels: list[WheelOfOrigin] = []
    makes: list[MakeOfOrigin] = []
    milk: list[MilkShare] = []
    ingredients: list[IngredientUsed] = []
    pending: list[str] = []
