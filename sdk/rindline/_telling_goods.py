"""One method for each event that makes, cuts, packs or ships goods.

One signature each, for all clients: see :class:`rindline._telling.Telling`.
"""

# ruff: noqa: PLR0913 - the arguments are the fields of the event, all by keyword.

from collections.abc import Sequence
from datetime import date
from typing import Generic, TypeVar, Unpack

from rindline._making import Common, MakesEvents
from rindline_schema.events import (
    Arrive,
    Blend,
    Cut,
    Discard,
    Discarded,
    Dispatch,
    Document,
    Heat,
    Hoop,
    Input,
    Line,
    Make,
    MilkTests,
    NewLot,
    NewWheel,
    Pack,
    Packed,
    Piece,
    Receive,
    VatReading,
)
from rindline_schema.events import (
    Unpack as UnpackCase,
)
from rindline_schema.quantities import (
    Celsius,
    Code,
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

__all__ = ["TellingGoods"]

F = TypeVar("F")


class TellingGoods(MakesEvents[F], Generic[F]):
    """Milk to case: the events that move grams."""

    def receive(
        self,
        *,
        product: Code,
        supplier: Code,
        reference: ShortText | None = None,
        lot: LotCode | None = None,
        mass_g: PositiveGrams | None = None,
        volume_ml: Millilitres | None = None,
        density_g_per_l: Density = 1030,
        count: Count | None = None,
        room: Code | None = None,
        temperature_c: Celsius | None = None,
        tests: MilkTests | None = None,
        best_before: date | None = None,
        **common: Unpack[Common],
    ) -> F:
        """Milk or an ingredient came in (from ``supplier``)."""
        return self._fact(
            Receive,
            common,
            product=product,
            supplier=supplier,
            reference=reference,
            lot=lot,
            mass_g=mass_g,
            volume_ml=volume_ml,
            density_g_per_l=density_g_per_l,
            count=count,
            room=room,
            temperature_c=temperature_c,
            tests=tests,
            best_before=best_before,
        )

    def make(
        self,
        *,
        product: Code,
        vat: Code,
        inputs: list[Input],
        lot: LotCode | None = None,
        heat: Heat | None = None,
        readings: Sequence[VatReading] = (),
        ended_at: Time | None = None,
        room: Code | None = None,
        **common: Unpack[Common],
    ) -> F:
        """One vat's work; ``at`` is its start."""
        return self._fact(
            Make,
            common,
            product=product,
            vat=vat,
            inputs=inputs,
            lot=lot,
            heat=heat,
            readings=list(readings),
            ended_at=ended_at,
            room=room,
        )

    def hoop(
        self,
        *,
        make: LotCode,
        product: Code,
        wheels: list[NewWheel],
        room: Code,
        whey_g: Grams = 0,
        finished: bool = False,
        **common: Unpack[Common],
    ) -> F:
        """Wheels from a make, perhaps one part of them."""
        return self._fact(
            Hoop,
            common,
            make=make,
            product=product,
            wheels=wheels,
            room=room,
            whey_g=whey_g,
            finished=finished,
        )

    def cut(
        self,
        *,
        lot: LotCode,
        pieces: list[Piece],
        tool: Code | None = None,
        room: Code | None = None,
        weighed_g: PositiveGrams | None = None,
        loss_g: Grams = 0,
        finished: bool = False,
        **common: Unpack[Common],
    ) -> F:
        """A wheel cut, or a portion cut smaller."""
        return self._fact(
            Cut,
            common,
            lot=lot,
            pieces=pieces,
            tool=tool,
            room=room,
            weighed_g=weighed_g,
            loss_g=loss_g,
            finished=finished,
        )

    def blend(
        self,
        *,
        inputs: list[Input],
        outputs: list[NewLot],
        tool: Code | None = None,
        room: Code | None = None,
        **common: Unpack[Common],
    ) -> F:
        """Several lots worked into one or more."""
        return self._fact(
            Blend,
            common,
            inputs=inputs,
            outputs=outputs,
            tool=tool,
            room=room,
        )

    def pack(
        self,
        *,
        case: Sscc,
        lots: list[Packed],
        **common: Unpack[Common],
    ) -> F:
        """Lots into a case."""
        return self._fact(
            Pack,
            common,
            case=case,
            lots=lots,
        )

    def unpack(
        self,
        *,
        case: Sscc,
        lots: Sequence[Packed] = (),
        **common: Unpack[Common],
    ) -> F:
        """Lots out of a case; no lots named means all."""
        return self._fact(
            UnpackCase,
            common,
            case=case,
            lots=list(lots),
        )

    def dispatch(
        self,
        *,
        lines: list[Line],
        document: Document,
        to: Code | None = None,
        to_site: SiteCode | None = None,
        carrier: Code | None = None,
        temperature_c: Celsius | None = None,
        **common: Unpack[Common],
    ) -> F:
        """Goods leave for a customer (``to``) or a site of ours (``to_site``)."""
        return self._fact(
            Dispatch,
            common,
            lines=lines,
            document=document,
            to=to,
            to_site=to_site,
            carrier=carrier,
            temperature_c=temperature_c,
        )

    def arrive(
        self,
        *,
        lines: list[Line],
        document: Document | None = None,
        returned_by: Code | None = None,
        room: Code | None = None,
        temperature_c: Celsius | None = None,
        **common: Unpack[Common],
    ) -> F:
        """Goods came, on a dispatch of ours or back from a customer."""
        return self._fact(
            Arrive,
            common,
            lines=lines,
            document=document,
            returned_by=returned_by,
            room=room,
            temperature_c=temperature_c,
        )

    def discard(
        self,
        *,
        lots: list[Discarded],
        reason: LongText,
        method: ShortText | None = None,
        document: Document | None = None,
        **common: Unpack[Common],
    ) -> F:
        """Goods thrown away, why and how."""
        return self._fact(
            Discard,
            common,
            lots=lots,
            reason=reason,
            method=method,
            document=document,
        )
