"""A dairy simulated step by step: what happens in it is told as events, in order of time."""

from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from random import Random
from typing import Any, TypeVar
from uuid import UUID

from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.events import Correct, Document, Event, EventBase
from rindline_schema.gs1 import sscc
from rindline_schema.uuid7 import uuid7
from tests.histories.registers import BEGIN, SITES
from tests.histories.stock import Amount, Case, Goods, Load

__all__ = ["Action", "Simulation"]

_E = TypeVar("_E", bound=EventBase)


class Simulation:
    """The state of the dairy, and the events told so far.

    ``doubtful`` are lots that a mistaken event touched: until its correction is told, what is
    known of them is wrong.
    """

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)
        self.now = BEGIN + timedelta(hours=1)
        self.events: list[Event] = []
        self.goods: dict[str, Goods] = {}
        self.cases: dict[str, Case] = {}
        self.loads: list[Load] = []
        self.samples: list[tuple[str, str]] = []
        self.holds: dict[UUID, tuple[set[str], bool]] = {}
        self.lifted: dict[UUID, set[str]] = {}
        self.doubtful: set[str] = set()
        self.pending_corrections: list[Callable[[], None]] = []
        self.differences: list[str] = []
        self._serials: dict[str, int] = {}
        self._numbers = 0

    # --- telling ------------------------------------------------------------------------------

    def new_id(self) -> UUID:
        """An id as a station makes it: the time, and bits that no other has."""
        self._numbers += 1
        bits = self.random.getrandbits(48) << 32 | self._numbers
        return uuid7(int(self.now.timestamp() * 1000), bits.to_bytes(10, "big"))

    def pass_time(self, most_minutes: int = 240) -> None:
        self.now += timedelta(minutes=self.random.randint(1, most_minutes))

    def build(self, kind: type[_E], site: str, at: datetime | None = None, **fields: Any) -> _E:
        """Make an event of this moment without telling it."""
        return kind(id=self.new_id(), at=at or self.now, site=site, **fields)

    def tell(self, kind: type[_E], site: str, **fields: Any) -> _E:
        """Make an event of this moment and tell it."""
        event = self.build(kind, site, **fields)
        self.events.append(event)  # type: ignore[arg-type]
        return event

    def correct_later(self, wrong: Event, right: Event | None) -> None:
        """Have an event corrected some time from now."""

        def correction() -> None:
            self.tell(
                Correct,
                wrong.site or SITES[0],
                event=wrong.id,
                reason="told by mistake",
                replacement=right,
            )

        self.pending_corrections.append(correction)

    def document(self) -> Document:
        self._numbers += 1
        return Document(number=f"D{self._numbers:06d}")

    def new_sscc(self) -> str:
        self._numbers += 1
        # 952012 is not given out by GS1: it uses the prefix for its own examples.
        return sscc(3, "952012", self._numbers)

    # --- goods --------------------------------------------------------------------------------

    def new_code(self, site: str, kind: str) -> str:
        prefix = lot_code_prefix(site, self.now.date(), kind)
        code = None
        while code is None:
            self._serials[prefix] = self._serials.get(prefix, 0) + 1
            code = lot_code(prefix, self._serials[prefix])
        return code

    def new_goods(self, site: str, kind: str, amount: Amount, parents: Iterable[str] = ()) -> Goods:
        goods = Goods(self.new_code(site, kind), kind, tuple(parents), {site: amount})
        self.goods[goods.lot] = goods
        return goods

    def loose(self, *kinds: str, least_g: int = 1) -> list[tuple[Goods, str]]:
        """Lots of these kinds that lie loose at a site, with the site."""
        return [
            (goods, site)
            for goods in self.goods.values()
            if goods.kind in kinds and not goods.is_set_aside
            for site, amount in goods.loose.items()
            if amount.mass_g >= least_g and amount.count > 0
        ]

    def pick(self, *kinds: str, least_g: int = 1) -> tuple[Goods, str] | None:
        found = self.loose(*kinds, least_g=least_g)
        return self.random.choice(found) if found else None

    def is_all_loose(self, goods: Goods, site: str) -> bool:
        """Whether none of a lot lies in a case at the site."""
        return not any(
            case.site == site and goods.lot in case.inside for case in self.cases.values()
        )

    # --- holds --------------------------------------------------------------------------------

    def holds_on(self, lot: str) -> list[UUID]:
        """The holds that keep a lot from being used now."""
        return [
            hold
            for hold, (lots, spreads) in self.holds.items()
            if self._is_reached(lot, hold, lots, spreads)
        ]

    def _is_reached(self, lot: str, hold: UUID, lots: set[str], spreads: bool) -> bool:
        if lot in self.lifted[hold]:
            return False
        if lot in lots:
            return True
        return spreads and any(
            self._is_reached(parent, hold, lots, spreads) for parent in self.goods[lot].parents
        )

    def override_for(self, lots: Iterable[str]) -> str | None:
        return "looked at, in order" if any(self.holds_on(lot) for lot in lots) else None

    def may_use(self, lots: Iterable[str]) -> bool:
        """Held goods are left alone, save now and then."""
        return not any(self.holds_on(lot) for lot in lots) or self.random.random() < 0.2


Action = Callable[[Simulation], bool]
"""One thing that may happen; False if there was nothing to do it with."""
