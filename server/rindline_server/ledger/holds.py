"""Whether a lot is held at a time: by a hold of its own, or one spreading from an ancestor."""

from rindline_server.ledger.states import HoldSpan
from rindline_server.ledger.world import World

__all__ = ["holds_at"]


def _in_force(span: HoldSpan, at_us: int) -> bool:
    return span.since_us <= at_us and (span.until_us is None or at_us < span.until_us)


def holds_at(world: World, lot: str, at_us: int) -> list[tuple[str, HoldSpan]]:
    """Give the holds that keep ``lot`` from being used at ``at_us``, with the lot each is on.

    A spreading hold is stopped on its way down by a lot that was released after it was put on.
    """
    found = [(lot, span) for span in world.record(lot).holds if _in_force(span, at_us)]
    if not world.any_spreading_hold:
        return found
    # For each lot on the way up: the latest time it, or all below it, were cleared.
    pending = [(lot, _cleared(world, lot, at_us))]
    best: dict[str, int] = {}
    while pending:
        child, cleared_us = pending.pop()
        for parent in world.parents.get(child, ()):
            if best.get(parent, cleared_us + 1) <= cleared_us:
                continue
            best[parent] = cleared_us
            pending.append((parent, max(cleared_us, _cleared(world, parent, at_us))))
    for ancestor, cleared_us in sorted(best.items()):
        found += [
            (ancestor, span)
            for span in world.record(ancestor).holds
            if span.spreads and _in_force(span, at_us) and span.since_us > cleared_us
        ]
    return found


def _cleared(world: World, lot: str, at_us: int) -> int:
    times = [t for t in world.record(lot).cleared_us if t <= at_us]
    return max(times, default=-1)
