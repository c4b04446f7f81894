"""Samples, results, holds, discards, cleaning."""

from typing import Annotated, Literal
from uuid import UUID

from msgspec import Meta

from rindline_schema.events.base import Document, EventBase, Lots, Part
from rindline_schema.quantities import Code, Count, Grams, LongText, LotCode, ShortText

__all__ = ["Clean", "Discard", "Discarded", "Hold", "Release", "Result", "Sample"]


class Sample(EventBase, kw_only=True, frozen=True, tag="sample"):
    """A sample of a lot: its mass, what for, and the reference written on it."""

    lot: LotCode
    reference: ShortText
    mass_g: Grams = 0
    purpose: ShortText | None = None
    laboratory: Code | None = None


class Result(EventBase, kw_only=True, frozen=True, tag="result"):
    """A laboratory's result for a sample, named by the sample's reference.

    A failed verdict puts the sample's lot on hold; ``spreads`` says whether that hold reaches
    all that was or will be made of it.
    """

    sample: ShortText
    test: ShortText
    verdict: Literal["passed", "failed", "noted"]
    method: ShortText | None = None
    value: ShortText | None = None
    unit: ShortText | None = None
    spreads: bool = True


class Hold(EventBase, kw_only=True, frozen=True, tag="hold"):
    """Lots that may not be used or dispatched until released.

    ``spreads`` says whether the hold reaches all that was or will be made of them.
    """

    lots: Lots
    reason: LongText
    spreads: bool = True


class Release(EventBase, kw_only=True, frozen=True, tag="release"):
    """The hold on lots is lifted; ``hold`` names the one meant, by its event's id."""

    lots: Lots
    reason: LongText
    hold: UUID | None = None


class Discarded(Part, kw_only=True, frozen=True):
    """How much of a lot was discarded; count and mass left out mean all that lies here."""

    lot: LotCode
    count: Count | None = None
    mass_g: Grams | None = None


class Discard(EventBase, kw_only=True, frozen=True, tag="discard"):
    """Goods thrown away, why and how; ``document`` if they were lost on the way."""

    lots: Annotated[list[Discarded], Meta(min_length=1, max_length=1000)]
    reason: LongText
    method: ShortText | None = None
    document: Document | None = None


class Clean(EventBase, kw_only=True, frozen=True, tag="clean"):
    """A tool or a room was cleaned, and how: ends contact through it."""

    method: ShortText
    tool: Code | None = None
    room: Code | None = None
