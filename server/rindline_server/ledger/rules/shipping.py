"""Cases, dispatch and arrival. A case is a container: what it holds moves with it."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from rindline_schema.events import Arrive, Dispatch, Fact, Line, Pack, Unpack
from rindline_server.ledger.entries import Effects
from rindline_server.ledger.lookups import Lookup
from rindline_server.ledger.rules.lines import Lines

__all__ = [
    "arrive_effects",
    "case_effects",
    "cases_of",
    "check_arrive",
    "check_dispatch",
    "contents",
    "dispatch_effects",
    "pack_effects",
    "unpack_effects",
]

_LINES_APART = 100_000
"""Room for this many lines of the event's own before those of its first case."""
_LINES_A_CASE = 100_000


def pack_effects(event: Pack) -> Effects:
    """Note in each lot's history what was packed."""
    lines = Lines(event)
    for item in event.lots:
        lines.entry("pack", item.lot, item.mass_g, count=item.count, detail=event.case)
    return lines.effects()


def unpack_effects(event: Unpack) -> Effects:
    """Note what was named as unpacked; if nothing was, see :func:`case_effects`."""
    lines = Lines(event)
    for item in event.lots:
        lines.entry("unpack", item.lot, item.mass_g, count=item.count, detail=event.case)
    return lines.effects()


def check_dispatch(event: Dispatch, lookup: Lookup) -> None:
    """Refuse an unknown customer, site or carrier."""
    lookup.partner(event.to, "customer")
    lookup.partner(event.carrier, "carrier")
    if event.to_site is not None:
        lookup.site(event.to_site)


def dispatch_effects(event: Dispatch) -> Effects:
    """Send each lot line; cases follow from what was packed (:func:`case_effects`)."""
    lines = Lines(event)
    for line in event.lines:
        if line.lot is not None:
            _send(lines, event, line.lot, line.mass_g, line.count)
    return lines.effects()


def _send(lines: Lines, event: Dispatch, lot: str, mass_g: int | None, count: int | None) -> None:
    lines.entry(
        "dispatch",
        lot,
        mass_g,
        count=count,
        document=event.document.number,
        partner=event.to,
        to_site=event.to_site,
        detail=event.document.kind,
    )


def check_arrive(event: Arrive, lookup: Lookup) -> None:
    """Refuse an unknown customer or room."""
    lookup.partner(event.returned_by, "customer")
    lookup.room(event.room, event.site or "")


def arrive_effects(event: Arrive) -> Effects:
    """Take in each lot line; cases follow from what was packed (:func:`case_effects`)."""
    lines = Lines(event)
    for line in event.lines:
        if line.lot is not None:
            _take_in(lines, event, line.lot, line.mass_g, line.count)
    return lines.effects()


def _take_in(lines: Lines, event: Arrive, lot: str, mass_g: int | None, count: int | None) -> None:
    returned = event.returned_by is not None
    lines.entry(
        "arrive",
        lot,
        mass_g,
        count=count,
        room=event.room,
        document=None if returned or event.document is None else event.document.number,
        partner=event.returned_by,
    )


def contents(facts: Sequence[Fact], until: Fact) -> dict[str, tuple[int, int]]:
    """Give what the case holds just before ``until``: lot -> (grams, pieces).

    ``facts`` are all events about it. At one and the same time a case first arrives, then
    is packed and unpacked in the order of the ids, then leaves.
    """
    held: dict[str, tuple[int, int]] = {}
    for fact in sorted(facts, key=_turn):
        if _turn(fact) >= _turn(until):
            break
        if isinstance(fact, Unpack) and not fact.lots:
            held.clear()
        if isinstance(fact, Pack | Unpack):
            sign = 1 if isinstance(fact, Pack) else -1
            for item in fact.lots:
                mass_g, count = held.get(item.lot, (0, 0))
                held[item.lot] = (mass_g + sign * item.mass_g, count + sign * item.count)
    return {
        lot: (max(mass_g, 0), max(count, 0))
        for lot, (mass_g, count) in sorted(held.items())
        if mass_g > 0 or count > 0
    }


def _turn(fact: Fact) -> tuple[datetime, int, UUID]:
    rank = 0 if isinstance(fact, Arrive) else 2 if isinstance(fact, Dispatch) else 1
    return fact.at, rank, fact.id


def case_effects(event: Fact, case: str, facts: Sequence[Fact]) -> Effects:
    """What an event does to the lots that lie in one case, as far as is known by now."""
    if isinstance(event, Unpack) and not event.lots:
        lines = Lines(event, _LINES_APART)
        for lot, (mass_g, count) in contents(facts, event).items():
            lines.entry("unpack", lot, mass_g, count=count, detail=case)
        return lines.effects()
    if not isinstance(event, Dispatch | Arrive):
        return Effects()
    index = next((i for i, line in enumerate(event.lines) if line.case == case), None)
    if index is None:
        return Effects()
    lines = Lines(event, _LINES_APART + index * _LINES_A_CASE)
    for lot, (mass_g, count) in contents(facts, event).items():
        if isinstance(event, Dispatch):
            _send(lines, event, lot, mass_g, count)
        else:
            _take_in(lines, event, lot, mass_g, count)
    return lines.effects()


def cases_of(lines: Sequence[Line]) -> tuple[str, ...]:
    """Give the cases named in lines."""
    return tuple(line.case for line in lines if line.case is not None)
