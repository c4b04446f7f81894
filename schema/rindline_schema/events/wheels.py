"""Wheels: hooped, moved, tended, judged with the iron, weighed."""

from typing import Annotated, Literal

from msgspec import Meta

from rindline_schema.events.base import EventBase, Lots, Part
from rindline_schema.quantities import Code, Grams, LotCode, PositiveGrams, ShortText

__all__ = ["Hoop", "Iron", "Move", "NewWheel", "Tend", "Weigh"]

_Score = Annotated[int, Meta(ge=0, le=100, description="On the business's own scale.")]


class NewWheel(Part, kw_only=True, frozen=True):
    """A wheel as it leaves the vat: its mass, and its code if the station stamped one."""

    mass_g: PositiveGrams
    lot: LotCode | None = None
    shelf: ShortText | None = None


class Hoop(EventBase, kw_only=True, frozen=True, tag="hoop"):
    """Wheels from a make; may be told in several parts.

    ``whey_g`` is whey weighed as it drained; ``finished`` says that nothing of the make is left,
    so that what is missing drained unweighed.
    """

    make: LotCode
    product: Code
    wheels: Annotated[list[NewWheel], Meta(min_length=1, max_length=1000)]
    room: Code
    whey_g: Grams = 0
    finished: bool = False


class Move(EventBase, kw_only=True, frozen=True, tag="move"):
    """Lots to a room of the same site; told late, it takes its place in time."""

    lots: Lots
    room: Code
    shelf: ShortText | None = None


class Tend(EventBase, kw_only=True, frozen=True, tag="tend"):
    """Wheels turned, brushed, rubbed, washed or pierced (with the number of holes a wheel)."""

    task: Literal["turn", "brush", "rub", "wash", "pierce"]
    lots: Lots
    tool: Code | None = None
    holes: Annotated[int, Meta(ge=1, le=2000)] | None = None


class Iron(EventBase, kw_only=True, frozen=True, tag="iron"):
    """A plug taken with the cheese iron and judged; ``plug_g`` is what was not put back."""

    lot: LotCode
    tool: Code | None = None
    body: _Score | None = None
    texture: _Score | None = None
    blueing: _Score | None = None
    coat: _Score | None = None
    flavour: _Score | None = None
    grade: ShortText | None = None
    plug_g: Grams = 0


class Weigh(EventBase, kw_only=True, frozen=True, tag="weigh"):
    """A lot's mass now, as far as it lies at this site; what is lost since is ripening loss."""

    lot: LotCode
    mass_g: Grams
    scale: Code | None = None
