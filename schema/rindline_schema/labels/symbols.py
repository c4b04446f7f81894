"""Which symbols a label carries, and what stands in them."""

from collections.abc import Sequence
from datetime import date

from rindline_schema.gs1 import (
    DIGITAL_LINK_BASE,
    Element,
    day_element,
    digital_link,
    element_string,
    element_text,
    gtin14,
    mass_element,
)
from rindline_schema.labels.content import LabelSymbol, SymbolKind
from rindline_schema.labels.facts import LabelFacts

__all__ = ["label_symbols"]


def label_symbols(
    facts: LabelFacts, until: date | None, base: str = DIGITAL_LINK_BASE
) -> list[LabelSymbol]:
    """Give every symbol that fits the facts; the label's size decides which of them are drawn.

    ``until`` is the last day that the label promises, ``base`` the address of the links. Goods
    without a GTIN get one plain Data Matrix symbol with the bare lot code.
    """
    if facts.kind == "case":
        return _case_symbols(facts, until)
    lot = facts.lot or ""
    if facts.product.gtin is None:
        return [LabelSymbol(kind="datamatrix", text=lot, data=lot)]
    elements = _piece_elements(facts, lot, until)
    link = digital_link(_without_past_days(elements), base)
    return [
        _symbol("datamatrix", elements),
        LabelSymbol(kind="qr", text=link, data=link),
        _symbol("gs1_128", _without_past_days(elements)),
    ]


def _symbol(kind: SymbolKind, elements: Sequence[Element]) -> LabelSymbol:
    return LabelSymbol(
        kind=kind,
        text=element_text(elements),
        data=element_string(elements),
        elements=list(elements),
    )


def _piece_elements(facts: LabelFacts, lot: str, until: date | None) -> list[Element]:
    elements = [Element("01", gtin14(facts.product.gtin or ""))]
    if facts.product.weight == "variable" and facts.net_mass_g is not None:
        elements.append(Element(*mass_element(facts.net_mass_g)))
    elements.extend(_days(facts, until))
    elements.append(Element("10", lot))
    return elements


def _days(facts: LabelFacts, until: date | None) -> list[Element]:
    days = []
    if until is not None:
        days.append(Element("15", day_element(until)))
    if facts.packed_on is not None:
        days.append(Element("13", day_element(facts.packed_on)))
    elif facts.made_on is not None:
        days.append(Element("11", day_element(facts.made_on)))
    return days


def _without_past_days(elements: Sequence[Element]) -> list[Element]:
    # The day of packing matters to no till and no till's scanner: without it a link is a smaller
    # symbol and a linear symbol one line less. The Data Matrix symbol has room for it.
    return [element for element in elements if element.ai not in ("11", "13")]


def _case_symbols(facts: LabelFacts, until: date | None) -> list[LabelSymbol]:
    elements = [Element("00", facts.case or "")]
    lots = {item.lot for item in facts.contents}
    if facts.product.gtin is not None:
        elements.append(Element("02", gtin14(facts.product.gtin)))
        elements.append(Element("37", str(facts.total_count)))
        if until is not None:
            elements.append(Element("15", day_element(until)))
        if facts.product.weight == "variable" and facts.net_mass_g is not None:
            elements.append(Element(*mass_element(facts.net_mass_g)))
        if len(lots) == 1:
            # Of several lots none may stand for all: then only the record tells them apart.
            elements.append(Element("10", facts.contents[0].lot))
    return [_symbol("datamatrix", elements), _symbol("gs1_128", elements)]
