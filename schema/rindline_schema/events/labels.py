"""Labels printed: a fact of its own, so that nobody wonders where a second one came from."""

from typing import Annotated, Literal
from uuid import UUID

from msgspec import Meta

from rindline_schema.events.base import EventBase
from rindline_schema.quantities import LongText, LotCode, Sscc

__all__ = ["Label"]


class Label(EventBase, kw_only=True, frozen=True, tag="label"):
    """Labels were printed for a lot or a case, perhaps before the lot was made; changes no figure.

    ``reason`` says why they were printed again and is what makes a reprint; ``reprint_of`` names
    the event of the first printing, where it is known.
    """

    kind: Literal["wheel", "portion", "case"]
    lot: LotCode | None = None
    case: Sscc | None = None
    copies: Annotated[int, Meta(ge=1, le=10_000)] = 1
    reason: LongText | None = None
    reprint_of: UUID | None = None
