"""What every event carries, and the small parts several events share."""

from typing import Annotated
from uuid import UUID

from msgspec import Meta, Struct

from rindline_schema.quantities import (
    Count,
    Density,
    Grams,
    LongText,
    LotCode,
    Millilitres,
    PositiveGrams,
    ShortText,
    SiteCode,
    Sscc,
    Time,
)

__all__ = ["Document", "EventBase", "Input", "Line", "Part", "Quantity"]


class Part(Struct, kw_only=True, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """A part of an event: unknown fields are an error, defaults are not written."""


class EventBase(
    Struct,
    tag_field="type",
    kw_only=True,
    frozen=True,
    forbid_unknown_fields=True,
    omit_defaults=True,
):
    """One fact: the station's own id (UUIDv7), when it happened, where, and perhaps a note.

    ``site`` may be left out by a station whose key belongs to a site. ``override`` states why
    something was done that a hold forbids; it is kept and shown. ``station_at`` is set by the
    server alone, where it had to correct ``at``: what the station's clock had said.
    """

    id: UUID
    at: Time
    site: SiteCode | None = None
    note: LongText | None = None
    override: LongText | None = None
    station_at: Time | None = None


class Quantity(Part, kw_only=True, frozen=True):
    """How much: ``mass_g`` or ``volume_ml`` (milk; turned into mass by the density)."""

    mass_g: PositiveGrams | None = None
    volume_ml: Millilitres | None = None
    density_g_per_l: Density = 1030


class Input(Quantity, kw_only=True, frozen=True):
    """How much of a lot went in."""

    lot: LotCode
    count: Count | None = None


class Document(Part, kw_only=True, frozen=True):
    """The paper goods travel with: what it is (delivery note, invoice ...) and its number."""

    kind: ShortText = "delivery note"
    number: ShortText


class Line(Part, kw_only=True, frozen=True):
    """One line of goods: a lot, or a whole case. Count and mass left out mean all of it."""

    lot: LotCode | None = None
    case: Sscc | None = None
    count: Count | None = None
    mass_g: Grams | None = None


Lots = Annotated[list[LotCode], Meta(min_length=1, max_length=1000)]
