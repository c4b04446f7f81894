"""The lots an event makes, read off the event alone, and the codes they get."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime

from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.events import Blend, Correct, Cut, Event, Hoop, Input, Make, NewLot, Receive
from rindline_schema.registers import LotKind

__all__ = ["CodeGiver", "MadeLot", "lots_made"]

KindOf = Callable[[str], LotKind | None]


@dataclass(frozen=True, slots=True)
class MadeLot:
    """A lot as its event tells it; ``code`` is None where the server gives one."""

    pointer: str
    code: str | None
    kind: LotKind
    product: str | None
    mass_g: int
    count: int
    room: str | None


def lots_made(event: Event, kind_of: KindOf) -> Iterator[MadeLot]:
    """Give the lots an event makes; ``kind_of`` says what a declared product is."""
    match event:
        case Receive():
            kind = kind_of(event.product) or ("milk" if event.volume_ml else "ingredient")
            mass_g = _grams(event)
            yield MadeLot(
                "/lot", event.lot, kind, event.product, mass_g, event.count or 1, event.room
            )
        case Make():
            mass_g = sum(_grams(part) for part in event.inputs)
            yield MadeLot("/lot", event.lot, "make", event.product, mass_g, 1, event.room)
        case Hoop():
            for i, wheel in enumerate(event.wheels):
                pointer = f"/wheels/{i}/lot"
                yield MadeLot(
                    pointer, wheel.lot, "wheel", event.product, wheel.mass_g, 1, event.room
                )
        case Cut():
            yield from _new_lots("/pieces", list(event.pieces), "portion", event.room, kind_of)
        case Blend():
            yield from _new_lots("/outputs", event.outputs, "blend", event.room, kind_of)
        case Correct() if event.replacement is not None:
            for made in lots_made(event.replacement, kind_of):
                yield MadeLot(
                    f"/replacement{made.pointer}",
                    made.code,
                    made.kind,
                    made.product,
                    made.mass_g,
                    made.count,
                    made.room,
                )


def _grams(told: Receive | Input) -> int:
    return told.mass_g or (told.volume_ml or 0) * told.density_g_per_l // 1000


def _new_lots(
    pointer: str, lots: list[NewLot], default: LotKind, room: str | None, kind_of: KindOf
) -> Iterator[MadeLot]:
    for i, new in enumerate(lots):
        kind = kind_of(new.product) or default
        yield MadeLot(f"{pointer}/{i}/lot", new.lot, kind, new.product, new.mass_g, new.count, room)


class CodeGiver:
    """Gives lot codes: a serial for each site, day and kind."""

    def __init__(self) -> None:
        self._serials: dict[str, int] = {}

    def give(self, site: str, at: datetime, kind: LotKind) -> str:
        """Give the next code; a few serials have none and are passed over."""
        serials = self.reserve(site, at.date(), kind, 1)
        code = lot_code(lot_code_prefix(site, at.date(), kind), serials[-1])
        assert code is not None
        return code

    def reserve(self, site: str, day: date, kind: LotKind, count: int) -> range:
        """Take serials that hold ``count`` codes, the last of them one."""
        prefix = lot_code_prefix(site, day, kind)
        first = serial = self._serials.get(prefix, 0) + 1
        while True:
            count -= lot_code(prefix, serial) is not None
            if not count:
                self._serials[prefix] = serial
                return range(first, serial + 1)
            serial += 1
