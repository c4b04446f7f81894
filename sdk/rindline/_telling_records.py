"""One method for each event that records work on lots, judgements and findings.

One signature each, for all clients: see :class:`rindline._telling.Telling`.
"""

# ruff: noqa: PLR0913 - the arguments are the fields of the event, all by keyword.

from typing import Generic, Literal, TypeVar, Unpack
from uuid import UUID

from rindline._making import Common, MakesEvents
from rindline_schema.events import (
    Clean,
    Declare,
    Hold,
    Iron,
    Label,
    Move,
    Release,
    Result,
    Sample,
    Settle,
    Tend,
    Weigh,
)
from rindline_schema.quantities import Code, Grams, LongText, LotCode, ShortText, Sscc
from rindline_schema.registers import RegisterEntry

__all__ = ["TellingRecords"]

F = TypeVar("F")


class TellingRecords(MakesEvents[F], Generic[F]):
    """Work on lots, samples, holds, registers, findings."""

    def move(
        self,
        *,
        lots: list[LotCode],
        room: Code,
        shelf: ShortText | None = None,
        **common: Unpack[Common],
    ) -> F:
        """Lots to a room of the same site."""
        return self._fact(
            Move,
            common,
            lots=lots,
            room=room,
            shelf=shelf,
        )

    def tend(
        self,
        *,
        task: Literal["turn", "brush", "rub", "wash", "pierce"],
        lots: list[LotCode],
        tool: Code | None = None,
        holes: int | None = None,
        **common: Unpack[Common],
    ) -> F:
        """Wheels turned, brushed, rubbed, washed or pierced."""
        return self._fact(
            Tend,
            common,
            task=task,
            lots=lots,
            tool=tool,
            holes=holes,
        )

    def iron(
        self,
        *,
        lot: LotCode,
        tool: Code | None = None,
        body: int | None = None,
        texture: int | None = None,
        blueing: int | None = None,
        coat: int | None = None,
        flavour: int | None = None,
        grade: ShortText | None = None,
        plug_g: Grams = 0,
        **common: Unpack[Common],
    ) -> F:
        """A plug taken with the cheese iron and judged."""
        return self._fact(
            Iron,
            common,
            lot=lot,
            tool=tool,
            body=body,
            texture=texture,
            blueing=blueing,
            coat=coat,
            flavour=flavour,
            grade=grade,
            plug_g=plug_g,
        )

    def weigh(
        self,
        *,
        lot: LotCode,
        mass_g: Grams,
        scale: Code | None = None,
        **common: Unpack[Common],
    ) -> F:
        """A lot's mass now, in grams."""
        return self._fact(
            Weigh,
            common,
            lot=lot,
            mass_g=mass_g,
            scale=scale,
        )

    def sample(
        self,
        *,
        lot: LotCode,
        reference: ShortText,
        mass_g: Grams = 0,
        purpose: ShortText | None = None,
        laboratory: Code | None = None,
        **common: Unpack[Common],
    ) -> F:
        """A sample of a lot, named by the reference written on it."""
        return self._fact(
            Sample,
            common,
            lot=lot,
            reference=reference,
            mass_g=mass_g,
            purpose=purpose,
            laboratory=laboratory,
        )

    def result(
        self,
        *,
        sample: ShortText,
        test: ShortText,
        verdict: Literal["passed", "failed", "noted"],
        method: ShortText | None = None,
        value: ShortText | None = None,
        unit: ShortText | None = None,
        spreads: bool = True,
        **common: Unpack[Common],
    ) -> F:
        """A laboratory's result for a sample; ``failed`` puts its lot on hold."""
        return self._fact(
            Result,
            common,
            sample=sample,
            test=test,
            verdict=verdict,
            method=method,
            value=value,
            unit=unit,
            spreads=spreads,
        )

    def hold(
        self,
        *,
        lots: list[LotCode],
        reason: LongText,
        spreads: bool = True,
        **common: Unpack[Common],
    ) -> F:
        """Lots that may not be used or dispatched until released."""
        return self._fact(
            Hold,
            common,
            lots=lots,
            reason=reason,
            spreads=spreads,
        )

    def release(
        self,
        *,
        lots: list[LotCode],
        reason: LongText,
        hold: UUID | None = None,
        **common: Unpack[Common],
    ) -> F:
        """The hold on lots is lifted."""
        return self._fact(
            Release,
            common,
            lots=lots,
            reason=reason,
            hold=hold,
        )

    def clean(
        self,
        *,
        method: ShortText,
        tool: Code | None = None,
        room: Code | None = None,
        **common: Unpack[Common],
    ) -> F:
        """A tool or a room was cleaned."""
        return self._fact(
            Clean,
            common,
            method=method,
            tool=tool,
            room=room,
        )

    def label(
        self,
        *,
        kind: Literal["wheel", "portion", "case"],
        lot: LotCode | None = None,
        case: Sscc | None = None,
        copies: int = 1,
        reason: LongText | None = None,
        reprint_of: UUID | None = None,
        **common: Unpack[Common],
    ) -> F:
        """Labels were printed for a lot or a case; ``reason`` if they were printed again."""
        return self._fact(
            Label,
            common,
            kind=kind,
            lot=lot,
            case=case,
            copies=copies,
            reason=reason,
            reprint_of=reprint_of,
        )

    def declare(self, entry: RegisterEntry, **common: Unpack[Common]) -> F:
        """A register entry (site, room, sensor, tool, partner, product), in force from ``at``."""
        return self._fact(Declare, common, entry=entry)

    def settle(
        self,
        *,
        discrepancy: str,
        finding: LongText,
        **common: Unpack[Common],
    ) -> F:
        """What was found about a discrepancy that no correction mends."""
        return self._fact(
            Settle,
            common,
            discrepancy=discrepancy,
            finding=finding,
        )
