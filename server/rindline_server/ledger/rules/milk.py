"""Milk and ingredients in, and the vat."""

from rindline_schema.codes import kind_of_code
from rindline_schema.events import Make, Receive
from rindline_server.ledger.entries import Effects
from rindline_server.ledger.lookups import Lookup
from rindline_server.ledger.refusal import refuse
from rindline_server.ledger.rules.lines import Lines, check_letter, input_g, millilitres_to_g

__all__ = ["check_make", "check_receive", "make_effects", "receive_effects"]


def check_receive(event: Receive, lookup: Lookup) -> None:
    """Refuse an unknown product, supplier or room, and a product that isn't received."""
    check_letter(event.lot, lookup.product(event.product, "milk", "ingredient"))
    lookup.partner(event.supplier, "supplier")
    lookup.room(event.room, event.site or "")


def receive_effects(event: Receive) -> Effects:
    """Make the lot; a positive inhibitor test puts it on hold."""
    lines = Lines(event)
    lot = event.lot or ""
    mass_g = event.mass_g
    if mass_g is None:
        mass_g = millilitres_to_g(event.volume_ml or 0, event.density_g_per_l)
    lines.entry(
        "born",
        lot,
        mass_g,
        count=event.count or 1,
        room=event.room,
        partner=event.supplier,
        detail=event.product,
    )
    if event.tests is not None and event.tests.inhibitors == "positive":
        lines.entry("hold", lot, spreads=True, detail="inhibitor test positive on receipt")
    return lines.effects()


def check_make(event: Make, lookup: Lookup) -> None:
    """Refuse an unknown product, vat or room, and inputs that do not go into a vat."""
    lookup.product(event.product, "make")
    lookup.tool(event.vat, "vat")
    lookup.room(event.room, event.site or "")
    for item in event.inputs:
        if kind_of_code(item.lot) not in ("milk", "ingredient"):
            raise refuse("wrong_kind", f"{item.lot} is not milk or an ingredient", lot=item.lot)


def make_effects(event: Make) -> Effects:
    """Make the lot of its inputs, each with an edge."""
    lines = Lines(event)
    lot = event.lot or ""
    for item in event.inputs:
        mass_g = input_g(item)
        lines.entry("take", item.lot, mass_g, count=item.count or 0)
        lines.edge(item.lot, lot, mass_g)
    made_g = sum(input_g(item) for item in event.inputs)
    lines.entry("born", lot, made_g, count=1, room=event.room, detail=event.product)
    return lines.effects()
