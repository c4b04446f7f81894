"""An invented dairy, told event by event: ids, times and lot codes come out the same each time."""

import itertools
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, Literal, TypeVar
from uuid import UUID

from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.events import (
    Arrive,
    Cut,
    Declare,
    Event,
    EventBase,
    Hoop,
    Input,
    Line,
    Make,
    NewWheel,
    Piece,
    Receive,
)
from rindline_schema.registers import (
    LotKind,
    Partner,
    Product,
    RegisterEntry,
    Room,
    Site,
    Tool,
)
from rindline_schema.uuid7 import uuid7

__all__ = ["NOW", "Dairy"]

E = TypeVar("E", bound=EventBase)

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
"""What the clock of a service under test says: later than all that is told."""

_START = datetime(2026, 3, 2, 5, tzinfo=UTC)

_ENTRIES: tuple[RegisterEntry, ...] = (
    Site(code="QM", name="Quillmere"),
    Site(code="QR", name="Quillmere Ripening"),
    Room(code="DAIRY", name="Dairy", site="QM"),
    Room(code="CAVE", name="Cave", site="QM"),
    Room(code="STORE", name="Store", site="QR"),
    Tool(code="VAT", name="Vat", kind="vat", site="QM"),
    Tool(code="WIRE", name="Wire", kind="wire", site="QM"),
    Partner(code="HERD-A", name="Herd A", roles=["supplier"]),
    Partner(code="HERD-B", name="Herd B", roles=["supplier"]),
    Partner(code="SHOP-A", name="Shop A", roles=["customer"], address="1 Invented Street"),
    Partner(code="SHOP-B", name="Shop B", roles=["customer"]),
    Product(code="MILK", name="Milk", kind="milk"),
    Product(code="RENNET", name="Rennet", kind="ingredient"),
    Product(code="CURD", name="Curd", kind="make"),
    Product(code="BLUE", name="Quillmere Blue", kind="wheel"),
    Product(code="WEDGE", name="Quillmere Blue wedge", kind="portion"),
    Product(code="TRIM", name="Trim", kind="trim"),
    Product(code="CRUMBLE", name="Crumble", kind="blend"),
)


class Dairy:
    """Makes events. Each lies a minute after the one before, unless its time is given.

    ``name`` keeps the ids of several dairies in one test apart.
    """

    def __init__(self, name: int = 0) -> None:
        self.time = _START
        self._name = name
        self._serials = itertools.count(1)
        self._codes: Counter[str] = Counter()

    def id(self) -> UUID:
        """A fresh id."""
        serial = next(self._serials)
        return uuid7(
            int(_START.timestamp() * 1000) + serial,
            self._name.to_bytes(4, "big") + serial.to_bytes(6, "big"),
        )

    def code(self, kind: LotKind, site: str = "QM") -> str:
        """A fresh lot code, as a station stamps it."""
        prefix = lot_code_prefix(site, self.time.date(), kind)
        code = None
        while code is None:
            self._codes[prefix] += 1
            code = lot_code(prefix, self._codes[prefix])
        return code

    def event(self, kind: type[E], **fields: Any) -> E:
        """An event of the kind, with an id, the next minute, and the site QM unless given."""
        self.time += timedelta(minutes=1)
        common: dict[str, Any] = {"id": self.id(), "at": self.time, "site": "QM"}
        return kind(**common | fields)

    # --- what most tests begin with -----------------------------------------------------------

    def declared(self) -> list[Event]:
        """Sites, rooms, tools, partners and products."""
        return [self.event(Declare, entry=entry) for entry in _ENTRIES]

    def milk(self, mass_g: int, supplier: str = "HERD-A") -> Receive:
        """Milk of a herd."""
        return self.event(
            Receive, product="MILK", supplier=supplier, lot=self.code("milk"), mass_g=mass_g
        )

    def make(self, *inputs: tuple[str | None, int]) -> Make:
        """A make of so many grams of each lot."""
        return self.event(
            Make,
            product="CURD",
            vat="VAT",
            lot=self.code("make"),
            inputs=[Input(lot=lot or "", mass_g=mass_g) for lot, mass_g in inputs],
        )

    def hoop(self, make: str | None, masses_g: Sequence[int], **fields: Any) -> Hoop:
        """Wheels of a make, of which nothing is left afterwards unless said otherwise."""
        return self.event(
            Hoop,
            make=make,
            product="BLUE",
            room="CAVE",
            wheels=[NewWheel(lot=self.code("wheel"), mass_g=mass_g) for mass_g in masses_g],
            **{"finished": True} | fields,
        )

    def piece(self, mass_g: int, kind: Literal["portion", "trim"] = "portion", n: int = 1) -> Piece:
        """``n`` pieces to be cut, as one lot."""
        product = "WEDGE" if kind == "portion" else "TRIM"
        return Piece(product=product, lot=self.code(kind), mass_g=mass_g, count=n)

    def cut(self, lot: str | None, *pieces: Piece, **fields: Any) -> Cut:
        """A lot cut into pieces."""
        return self.event(Cut, lot=lot, pieces=list(pieces), **fields)

    def returned(self, lot: str, by: str, mass_g: int, count: int) -> Arrive:
        """So much of a lot came back from a customer."""
        line = Line(lot=lot, mass_g=mass_g, count=count)
        return self.event(Arrive, lines=[line], returned_by=by, room="CAVE")

    def wheels(self, count: int, mass_g: int = 4_000) -> tuple[list[Event], list[str]]:
        """All it takes for so many wheels, registers apart; the events and the wheels' codes."""
        milk = self.milk(count * mass_g)
        make = self.make((milk.lot, count * mass_g))
        events: list[Event] = [milk, make]
        for start in range(0, count, 1_000):
            some = min(1_000, count - start)
            events.append(self.hoop(make.lot, [mass_g] * some, finished=False))
        hoops = [event for event in events if isinstance(event, Hoop)]
        return events, [wheel.lot or "" for hoop in hoops for wheel in hoop.wheels]
