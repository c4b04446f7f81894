"""What a label is made from, and what is wrong with it."""

from collections.abc import Iterator
from datetime import date, timedelta

from msgspec import Struct

from rindline_schema.codes import kind_of_code, lot_code_fault
from rindline_schema.gs1 import gtin_fault, is_variable_measure, sscc_fault
from rindline_schema.labels.content import LabelKind
from rindline_schema.registers import Partner, Product, Site

__all__ = ["CaseContent", "LabelFacts", "label_fault"]

_KINDS_OF_LABEL = {
    "wheel": ("wheel",),
    "portion": ("portion", "trim", "blend"),
    "case": ("wheel", "portion", "trim", "blend"),
}


class CaseContent(Struct, kw_only=True, frozen=True):
    """How many pieces, and how much, of one lot lie in a case."""

    lot: str
    count: int
    mass_g: int


class LabelFacts(Struct, kw_only=True, frozen=True):
    """What a label is made from.

    A wheel or portion has ``lot`` and ``mass_g`` (a fixed-weight product has its own), a case has
    ``case`` (its SSCC) and ``contents``, all of the one ``product``. ``site`` is where it was
    packed: its approval number is the mark, its name and address stand for the business unless
    ``business`` is given. ``best_before`` follows from the product's shelf life if left out.
    """

    kind: LabelKind
    product: Product
    site: Site
    lot: str | None = None
    case: str | None = None
    contents: list[CaseContent] = []
    mass_g: int | None = None
    count: int = 1
    packed_on: date | None = None
    made_on: date | None = None
    best_before: date | None = None
    wheels: list[str] = []
    makes: list[str] = []
    business: Site | Partner | None = None

    @property
    def from_day(self) -> date | None:
        """The day from which it keeps: packed, else made."""
        return self.packed_on or self.made_on

    @property
    def keeps_until(self) -> date | None:
        """The best-before date, if one is given or follows from the shelf life."""
        if self.best_before is not None:
            return self.best_before
        if self.from_day is None or self.product.shelf_life_days is None:
            return None
        return self.from_day + timedelta(days=self.product.shelf_life_days)

    @property
    def total_count(self) -> int:
        """All pieces: those in the case, or those that the label stands for."""
        return sum(item.count for item in self.contents) if self.contents else self.count

    @property
    def net_mass_g(self) -> int | None:
        """The net mass in grams: of the case's contents, as weighed, or of the product."""
        if self.contents:
            return sum(item.mass_g for item in self.contents)
        if self.mass_g is not None:
            return self.mass_g
        return self.product.net_mass_g


def label_fault(facts: LabelFacts) -> str | None:
    """Say all that keeps facts from making a label, or give None."""
    return "; ".join(_faults(facts)) or None


def _faults(facts: LabelFacts) -> Iterator[str]:
    yield from _case_faults(facts) if facts.kind == "case" else _piece_faults(facts)
    for code in (*facts.wheels, *facts.makes):
        fault = lot_code_fault(code)
        if fault:
            yield fault
    if facts.product.gtin is not None:
        fault = gtin_fault(facts.product.gtin)
        if fault:
            yield fault
        elif is_variable_measure(facts.product.gtin) and facts.product.weight == "fixed":
            yield f"{facts.product.code} is of fixed weight, but its GTIN is of variable measure"
    if facts.keeps_until is not None and facts.from_day is None:
        yield "a best-before date needs the day it was packed or made"


def _piece_faults(facts: LabelFacts) -> Iterator[str]:
    if facts.lot is None or facts.case is not None or facts.contents:
        yield f"a {facts.kind} label needs a lot, and neither case nor contents"
        return
    yield from _lot_faults(facts, facts.lot)
    if facts.net_mass_g is None:
        yield "the mass is missing: weigh it, or give the product a net mass"
    elif facts.net_mass_g <= 0:
        yield f"{facts.net_mass_g} g is no mass"
    if facts.count < 1:
        yield f"{facts.count} is no number of pieces"


def _lot_faults(facts: LabelFacts, lot: str) -> Iterator[str]:
    fault = lot_code_fault(lot)
    if fault:
        yield fault
        return
    kind = kind_of_code(lot)
    if kind not in _KINDS_OF_LABEL[facts.kind]:
        yield f"{lot} is a {kind}: a {facts.kind} label does not fit it"
    elif kind != facts.product.kind:
        yield f"{lot} is a {kind}, but {facts.product.code} is a {facts.product.kind} product"


def _case_faults(facts: LabelFacts) -> Iterator[str]:
    if facts.case is None or facts.lot is not None or not facts.contents:
        yield "a case label needs the case's SSCC and its contents, and no lot"
        return
    fault = sscc_fault(facts.case)
    if fault:
        yield fault
    for item in facts.contents:
        yield from _lot_faults(facts, item.lot)
        if item.count < 1 or item.mass_g < 1:
            yield f"{item.lot}: {item.count} pieces of {item.mass_g} g are no contents"
