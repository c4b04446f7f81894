"""Milk and ingredients in, and the vat."""

from datetime import date
from typing import Annotated, Literal

from msgspec import Meta, field

from rindline_schema.events.base import EventBase, Input, Part
from rindline_schema.quantities import (
    Celsius,
    Code,
    Count,
    Density,
    LotCode,
    Millilitres,
    PositiveGrams,
    ShortText,
    Time,
)
from rindline_schema.registers import MilkTreatment

__all__ = ["Heat", "Make", "MilkTests", "Receive", "VatReading"]


class MilkTests(Part, kw_only=True, frozen=True):
    """Results known when the milk came in. A positive inhibitor test puts the lot on hold."""

    inhibitors: Literal["negative", "positive"] | None = None
    plate_count_per_ml: Annotated[int, Meta(ge=0, le=10**12)] | None = None
    somatic_cells_per_ml: Annotated[int, Meta(ge=0, le=10**12)] | None = None


class Receive(EventBase, kw_only=True, frozen=True, tag="receive"):
    """Milk or an ingredient came in: makes a lot at the site."""

    product: Code
    supplier: Code = field(name="from")
    reference: ShortText | None = None
    lot: LotCode | None = None
    mass_g: PositiveGrams | None = None
    volume_ml: Millilitres | None = None
    density_g_per_l: Density = 1030
    count: Count | None = None
    room: Code | None = None
    temperature_c: Celsius | None = None
    tests: MilkTests | None = None
    best_before: date | None = None


class Heat(Part, kw_only=True, frozen=True):
    """What heat the milk had before the vat: kind, temperature in °C, holding time in s."""

    treatment: MilkTreatment
    temperature_c: Celsius | None = None
    hold_s: Annotated[float, Meta(ge=0, le=86_400)] | None = None


class VatReading(Part, kw_only=True, frozen=True):
    """What was read in the vat at one time; titratable acidity in % lactic acid."""

    at: Time
    temperature_c: Celsius | None = None
    ph: Annotated[float, Meta(ge=0, le=14)] | None = None
    acidity_pct: Annotated[float, Meta(ge=0, le=10)] | None = None


class Make(EventBase, kw_only=True, frozen=True, tag="make"):
    """One vat's work, from milk, starter, mould spores, rennet, salt; ``at`` is its start."""

    product: Code
    vat: Code
    inputs: Annotated[list[Input], Meta(min_length=1, max_length=200)]
    lot: LotCode | None = None
    heat: Heat | None = None
    readings: Annotated[list[VatReading], Meta(max_length=500)] = []
    ended_at: Time | None = None
    room: Code | None = None
