"""Wheels: hooped, moved, tended, judged with the iron, weighed."""

from rindline_schema.codes import kind_of_code
from rindline_schema.events import Hoop, Iron, Move, Tend, Weigh
from rindline_server.ledger.entries import Effects
from rindline_server.ledger.lookups import Lookup
from rindline_server.ledger.refusal import refuse
from rindline_server.ledger.rules.lines import Lines

__all__ = [
    "check_hoop",
    "check_iron",
    "check_move",
    "check_tend",
    "hoop_effects",
    "iron_effects",
    "move_effects",
    "tend_effects",
    "weigh_effects",
]


def check_hoop(event: Hoop, lookup: Lookup) -> None:
    """Refuse an unknown product or room, and wheels of anything but a make."""
    lookup.product(event.product, "wheel")
    lookup.room(event.room, event.site or "")
    if kind_of_code(event.make) != "make":
        raise refuse("wrong_kind", f"{event.make} is not a make", lot=event.make)


def hoop_effects(event: Hoop) -> Effects:
    """Make the wheels of the make; whey drains from it."""
    lines = Lines(event)
    for wheel in event.wheels:
        lot = wheel.lot or ""
        lines.entry("take", event.make, wheel.mass_g)
        lines.edge(event.make, lot, wheel.mass_g)
        lines.entry("born", lot, wheel.mass_g, count=1, room=event.room, detail=event.product)
    if event.whey_g:
        lines.entry("drain", event.make, event.whey_g)
    if event.finished:
        lines.entry("finish", event.make, detail="drained")
    return lines.effects()


def check_move(event: Move, lookup: Lookup) -> None:
    """Refuse a room that is unknown or of another site."""
    lookup.room(event.room, event.site or "")


def move_effects(event: Move) -> Effects:
    """Close each lot's stay and open the next."""
    lines = Lines(event)
    for lot in event.lots:
        lines.entry("move", lot, room=event.room, detail=event.shelf)
    return lines.effects()


def check_tend(event: Tend, lookup: Lookup) -> None:
    """Refuse an unknown tool."""
    lookup.tool(event.tool)


def tend_effects(event: Tend) -> Effects:
    """Note the tending in each lot's history."""
    lines = Lines(event)
    for lot in event.lots:
        lines.entry("tend", lot, detail=event.task)
    return lines.effects()


def check_iron(event: Iron, lookup: Lookup) -> None:
    """Refuse an unknown tool, and to judge anything but a wheel or portion."""
    lookup.tool(event.tool)
    if kind_of_code(event.lot) not in ("wheel", "portion"):
        raise refuse("wrong_kind", f"{event.lot} is not a wheel or portion", lot=event.lot)


def iron_effects(event: Iron) -> Effects:
    """Note the judging; what was not put back of the plug is taken as a sample."""
    lines = Lines(event)
    lines.entry("iron", event.lot, detail=event.grade)
    if event.plug_g:
        lines.entry("sample", event.lot, event.plug_g)
    return lines.effects()


def weigh_effects(event: Weigh) -> Effects:
    """Note the mass; the fold says what is lost since."""
    lines = Lines(event)
    lines.entry("weigh", event.lot, event.mass_g)
    return lines.effects()
