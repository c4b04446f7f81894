"""A small dairy to try single rules in: short ways to say events, tell them, see them refused."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any, TypeVar
from uuid import UUID

import pytest

from rindline_schema import events as ev
from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.events import Event, EventBase
from rindline_schema.problems import Problem
from rindline_schema.uuid7 import uuid7
from rindline_server.ledger.apply import Context, Recorded, RefusalError, apply
from rindline_server.ledger.states import LotRecord
from rindline_server.ledger.times import to_us
from rindline_server.ledger.world import World
from tests.histories.registers import BEGIN, declarations
from tests.histories.telling import empty_world

__all__ = ["Scene", "at", "code", "event_id"]

_E = TypeVar("_E", bound=EventBase)
_DAY = 24 * 60


def at(minutes: int) -> datetime:
    """A time so many minutes after the beginning."""
    return BEGIN + timedelta(minutes=minutes)


def event_id(number: int) -> UUID:
    return uuid7(int(BEGIN.timestamp() * 1000) + 1000, number.to_bytes(10, "big"))


def code(kind: str, number: int = 1, site: str = "QM") -> str:
    """The number-th code of a kind; all are of one day."""
    found: list[str] = []
    serial = 0
    while len(found) < number:
        serial += 1
        made = lot_code(lot_code_prefix(site, BEGIN.date(), kind), serial)
        if made is not None:
            found.append(made)
    return found[-1]


class Scene:
    """A world in which only the registers are known, and what is told to it."""

    def __init__(self) -> None:
        self.world: World = empty_world()
        self.now = Context(now_us=to_us(at(400 * _DAY)))
        self._numbers = 0
        for declare in declarations():
            apply(self.world, declare, self.now)

    def build(self, kind: type[_E], minutes: int, **fields: Any) -> _E:
        self._numbers += 1
        fields.setdefault("site", "QM")
        return kind(id=event_id(self._numbers), at=at(minutes), **fields)

    def say(self, event: Event) -> Recorded:
        return apply(self.world, event, self.now)

    def tell(self, kind: type[_E], minutes: int, **fields: Any) -> _E:
        """Tell an event that is accepted, and give it as it was told."""
        event = self.build(kind, minutes, **fields)
        self.say(event)  # type: ignore[arg-type]
        return event

    def warned(self, kind: type[_E], minutes: int, **fields: Any) -> list[str]:
        """Tell an event that is accepted, and give the codes of its warnings."""
        recorded = self.say(self.build(kind, minutes, **fields))  # type: ignore[arg-type]
        return [warned.code for warned in recorded.warnings]

    def refused(self, kind: type[_E], minutes: int, **fields: Any) -> Problem:
        """Tell an event that is refused and leaves everything as it was; give the problem."""
        return self.refusal_of(self.build(kind, minutes, **fields))  # type: ignore[arg-type]

    def refusal_of(self, event: Event) -> Problem:
        before = {name: repr(value) for name, value in vars(self.world).items()}
        with pytest.raises(RefusalError) as caught:
            self.say(event)
        assert {name: repr(value) for name, value in vars(self.world).items()} == before
        return caught.value.problem

    def record(self, lot: str) -> LotRecord:
        return self.world.record(lot)

    def found(self, lot: str) -> list[tuple[str, bool]]:
        """What does not fit together in a lot's record: kind, and whether that is sure."""
        return [(found.kind, found.sure) for found in self.record(lot).found]

    def held_g(self, lot: str) -> dict[str, int]:
        """Grams by holder."""
        return {holding.holder: holding.mass_g for holding in self.record(lot).holdings}

    # --- short ways to come to the point --------------------------------------------------------

    def milk(self, minutes: int = 10, mass_g: int = 500_000, number: int = 1) -> str:
        lot = code("milk", number)
        self.tell(ev.Receive, minutes, product="MILK", supplier="HERD-1", lot=lot, mass_g=mass_g)
        return lot

    def vat(self, minutes: int = 20, mass_g: int = 400_000, inputs: Sequence[str] = ()) -> str:
        lots = list(inputs) or [self.milk(minutes - 10)]
        lot = code("make")
        self.tell(
            ev.Make,
            minutes,
            product="CURD",
            vat="VAT-1",
            lot=lot,
            inputs=[ev.Input(lot=used, mass_g=mass_g // len(lots)) for used in lots],
        )
        return lot

    def wheel(self, minutes: int = 30, mass_g: int = 10_000) -> str:
        """One wheel of 10 kg, at site QM, with its make and milk."""
        make = self.vat(minutes - 10)
        lot = code("wheel")
        self.tell(
            ev.Hoop,
            minutes,
            make=make,
            product="BLUE",
            wheels=[ev.NewWheel(mass_g=mass_g, lot=lot)],
            room="QM-WARM",
        )
        return lot

    def portion(self, minutes: int = 40, mass_g: int = 1_000, count: int = 4) -> str:
        """One portion lot of four pieces and 1 kg, at site QM, with all before it."""
        wheel = self.wheel(minutes - 10)
        lot = code("portion")
        piece = ev.Piece(product="WEDGE", mass_g=mass_g, count=count, lot=lot)
        self.tell(ev.Cut, minutes, lot=wheel, pieces=[piece])
        return lot

    def piece(self, mass_g: int, number: int = 1, **fields: Any) -> ev.Piece:
        return ev.Piece(product="WEDGE", mass_g=mass_g, lot=code("portion", number), **fields)
