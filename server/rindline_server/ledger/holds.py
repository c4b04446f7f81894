"""Whether a lot is held at a time: by a hold of its own, or one spreading from an ancestor."""

from rindline_server.ledger.states import HoldSpan, LotRecord
from rindline_server.ledger.world import World

__all__ = ["holds_at"]


def _in_force(span: HoldSpan, at_us: int) -> bool:
    return span.since_us <= at_us and (span.until_us is None or at_us < span.until_us)


def holds_at(world: World, lot: str, at_us: int) -> list[tuple[str, HoldSpan]]:
    """Give the holds that keep ``lot`` from being used at ``at_us``, with the lot each is on.

    A spreading hold is stopped on its way down by a lot it was lifted for.
    """
    found = [(lot, span) for span in world.record(lot).holds if _in_force(span, at_us)]
    if world.any_spreading_hold:
        for ancestor in sorted(_ancestors(world, lot)):
            found += [
                (ancestor, span)
                for span in world.record(ancestor).holds
                if span.spreads
                and _in_force(span, at_us)
                and _reaches(world, lot, ancestor, span, at_us)
            ]
    return found


def _ancestors(world: World, lot: str) -> set[str]:
    seen: set[str] = set()
    ahead = [lot]
    while ahead:
        for parent in world.parents.get(ahead.pop(), ()):
            if parent not in seen:
                seen.add(parent)
                ahead.append(parent)
    return seen - {lot}


def _reaches(world: World, lot: str, ancestor: str, span: HoldSpan, at_us: int) -> bool:
    """Tell whether some way down from the ancestor leads past no lot the hold was lifted for."""
    seen = {lot}
    ahead = [lot]
    while ahead:
        child = ahead.pop()
        if child == ancestor:
            return True
        if _is_lifted(world.record(child), span, at_us):
            continue
        for parent in world.parents.get(child, ()):
            if parent not in seen:
                seen.add(parent)
                ahead.append(parent)
    return False


def _is_lifted(record: LotRecord, span: HoldSpan, at_us: int) -> bool:
    """Tell whether a release of this lot came between the hold and the time asked about."""
    return any(span.since_us <= cleared_us <= at_us for cleared_us in record.cleared_us) or any(
        own.event == span.event and own.until_us is not None and own.until_us <= at_us
        for own in record.holds
    )
