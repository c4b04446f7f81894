"""Cutting and blending: new lots from old ones."""

from typing import Annotated, Literal

from msgspec import Meta

from rindline_schema.events.base import EventBase, Input, Part
from rindline_schema.quantities import Code, Count, Grams, LotCode, PositiveGrams

__all__ = ["Blend", "Cut", "NewLot", "Piece", "Place"]

_Degrees = Annotated[int, Meta(ge=0, le=360)]


class Place(Part, kw_only=True, frozen=True):
    """Where in the wheel a piece lay: from one angle to another (degrees), and which layer."""

    from_deg: _Degrees
    to_deg: _Degrees
    layer: Literal["whole", "upper", "lower"] = "whole"


class NewLot(Part, kw_only=True, frozen=True):
    """A lot that is made here: product, number of pieces, mass, code if already stamped."""

    product: Code
    mass_g: PositiveGrams
    count: Count = 1
    lot: LotCode | None = None


class Piece(NewLot, kw_only=True, frozen=True):
    """What a cut makes: portions to sell, or trim; its product says which."""

    place: Place | None = None


class Cut(EventBase, kw_only=True, frozen=True, tag="cut"):
    """A wheel cut, or a portion cut smaller; may be told in several goes.

    ``weighed_g`` is the lot's mass on the scale just before; ``loss_g`` what the cutting lost as
    far as it was weighed; ``finished`` says that nothing is left of the lot.
    """

    lot: LotCode
    pieces: Annotated[list[Piece], Meta(min_length=1, max_length=1000)]
    tool: Code | None = None
    room: Code | None = None
    weighed_g: PositiveGrams | None = None
    loss_g: Grams = 0
    finished: bool = False


class Blend(EventBase, kw_only=True, frozen=True, tag="blend"):
    """Several lots worked into one or more, such as crumble from trim."""

    inputs: Annotated[list[Input], Meta(min_length=1, max_length=200)]
    outputs: Annotated[list[NewLot], Meta(min_length=1, max_length=200)]
    tool: Code | None = None
    room: Code | None = None
