"""Writing an event's entries and edges, numbered line by line."""

from typing import Any

from rindline_schema.codes import kind_of_code
from rindline_schema.events import Fact, Input
from rindline_schema.registers import Product
from rindline_server.ledger.entries import Edge, Effects, Entry, EntryKind
from rindline_server.ledger.refusal import refuse
from rindline_server.ledger.times import to_us

__all__ = ["Lines", "check_letter", "input_g", "millilitres_to_g"]


def millilitres_to_g(volume_ml: int, density_g_per_l: int) -> int:
    """Give the mass of a volume, rounded to the nearest gram."""
    return (volume_ml * density_g_per_l + 500) // 1000


def input_g(item: Input) -> int:
    """Give the grams of an input told by mass or by volume."""
    if item.mass_g is not None:
        return item.mass_g
    return millilitres_to_g(item.volume_ml or 0, item.density_g_per_l)


def check_letter(lot: str | None, product: Product) -> None:
    """Refuse a code whose letter says another kind of lot than its product."""
    if lot is not None and kind_of_code(lot) != product.kind:
        raise refuse(
            "wrong_kind",
            f"{lot} is the code of a {kind_of_code(lot)}, "
            f"but product {product.code!r} is {product.kind}",
            lot=lot,
        )


class Lines:
    """Collects what one event leaves in the books.

    ``first`` numbers the first line: parts of an event that depend on other events (the lots in
    a case) are numbered apart, so that they can be taken out and put back by themselves.
    """

    def __init__(self, event: Fact, first: int = 0) -> None:
        """Start an event's lines."""
        self._id = str(event.id)
        self._at_us = to_us(event.at)
        self._site = event.site or ""
        self._next = first
        self._entries: list[Entry] = []
        self._edges: list[Edge] = []

    def entry(self, kind: EntryKind, lot: str, mass_g: int | None = 0, **fields: Any) -> None:
        """Add an entry to a lot's history; fields as in ``Entry``."""
        self._entries.append(
            Entry(
                lot=lot,
                event=self._id,
                line=self._next,
                kind=kind,
                at_us=self._at_us,
                site=self._site,
                mass_g=mass_g,
                **fields,
            )
        )
        self._next += 1

    def edge(self, parent: str, child: str, mass_g: int) -> None:
        """Add an edge: grams of the parent that went into the child."""
        self._edges.append(
            Edge(parent=parent, child=child, mass_g=mass_g, event=self._id, line=self._next)
        )
        self._next += 1

    def effects(self) -> Effects:
        """Give all that was collected."""
        return Effects(tuple(self._entries), tuple(self._edges))
