"""Telling events to a store the way the writer does, without a service around it."""

from collections.abc import Iterable, Sequence
from hashlib import sha256
from typing import NamedTuple

import msgspec

from rindline_schema.answers import Warned
from rindline_schema.events import Correct, Event
from rindline_schema.problems import Problem
from rindline_server.ledger.apply import Context, RefusalError, apply
from rindline_server.ledger.world import World
from rindline_server.store import LedgerRow, Store

__all__ = [
    "RECORDED_US",
    "Verdict",
    "batches",
    "judged",
    "tell",
    "tell_for_verdicts",
    "tell_until_all_stand",
]

RECORDED_US = 1_800_000_000_000_000
"""When everything is recorded in these tests."""


def batches(events: Sequence[Event], size: int) -> Iterable[Sequence[Event]]:
    """The events, so many at a time."""
    return (events[start : start + size] for start in range(0, len(events), size))


class Verdict(NamedTuple):
    """What came of an event: the problem if it was refused, else what to look at."""

    event: Event
    problem: Problem | None
    warnings: tuple[Warned, ...] = ()


def judged(world: World, event: Event, context: Context) -> tuple[Verdict, Event]:
    """Apply an event; gives the verdict, and the event as it was recorded (or told)."""
    try:
        recorded = apply(world, event, context)
    except RefusalError as refusal:
        return Verdict(event, refusal.problem), event
    return Verdict(event, None, recorded.warnings), recorded.event


def tell_for_verdicts(store: Store, events: Sequence[Event], context: Context) -> list[Verdict]:
    """Tell events in one transaction; ids told before are left out."""
    verdicts: list[Verdict] = []
    rows: list[LedgerRow] = []
    with store.writing() as tx:
        known = tx.known([str(event.id) for event in events])
        new = list({e.id: e for e in events if str(e.id) not in known}.values())
        world = tx.load(new, context.tolerance)
        for event in new:
            verdict, recorded = judged(world, event, context)
            verdicts.append(verdict)
            if verdict.problem is None:
                rows.append(_row(event, recorded, tx.head.seq + len(rows) + 1))
        tx.append(rows)
        tx.write(world, {row.id: row.seq for row in rows})
    return verdicts


def _row(event: Event, recorded: Event, seq: int) -> LedgerRow:
    inner = event.replacement if isinstance(event, Correct) else None
    return LedgerRow(
        seq=seq,
        id=str(event.id),
        replacement_id=str(inner.id) if inner is not None else None,
        station="scale at the vat",
        recorded_us=RECORDED_US,
        told_hash=sha256(msgspec.json.encode(event)).digest(),
        body=msgspec.json.encode(recorded),
        answer=b"{}",
    )


def tell(store: Store, events: Sequence[Event], context: Context) -> list[tuple[Event, Problem]]:
    """Tell events in one transaction; gives those that were refused, and why."""
    verdicts = tell_for_verdicts(store, events, context)
    return [(v.event, v.problem) for v in verdicts if v.problem is not None]


def tell_until_all_stand(store: Store, events: Sequence[Event], context: Context, size: int) -> int:
    """Tell events in batches; what is refused is told again after the others, until all stand.

    Gives how often one was refused.
    """
    ahead, refusals = list(events), 0
    while ahead:
        refused = [
            event for some in batches(ahead, size) for event, _ in tell(store, some, context)
        ]
        assert len(refused) < len(ahead), refused[:3]
        ahead, refusals = refused, refusals + len(refused)
    return refusals
