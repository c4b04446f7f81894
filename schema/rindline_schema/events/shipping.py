"""Cases, dispatch and arrival."""

from typing import Annotated

from msgspec import Meta

from rindline_schema.events.base import Document, EventBase, Line, Part
from rindline_schema.quantities import Celsius, Code, Count, Grams, LotCode, SiteCode, Sscc

__all__ = ["Arrive", "Dispatch", "Pack", "Packed", "Unpack"]

_Lines = Annotated[list[Line], Meta(min_length=1, max_length=1000)]


class Packed(Part, kw_only=True, frozen=True):
    """So many pieces, or so much, of a lot in a case."""

    lot: LotCode
    count: Count
    mass_g: Grams


class Pack(EventBase, kw_only=True, frozen=True, tag="pack"):
    """Lots into a case. Lying in one case makes no relatives."""

    case: Sscc
    lots: Annotated[list[Packed], Meta(min_length=1, max_length=500)]


class Unpack(EventBase, kw_only=True, frozen=True, tag="unpack"):
    """Lots out of a case; no lots named means all that is in it."""

    case: Sscc
    lots: Annotated[list[Packed], Meta(max_length=500)] = []


class Dispatch(EventBase, kw_only=True, frozen=True, tag="dispatch"):
    """Goods leave this site for a customer (``to``) or another site of ours (``to_site``)."""

    lines: _Lines
    document: Document
    to: Code | None = None
    to_site: SiteCode | None = None
    carrier: Code | None = None
    temperature_c: Celsius | None = None


class Arrive(EventBase, kw_only=True, frozen=True, tag="arrive"):
    """Goods came: against the document of a dispatch of ours, or back from a customer."""

    lines: _Lines
    document: Document | None = None
    returned_by: Code | None = None
    room: Code | None = None
    temperature_c: Celsius | None = None
