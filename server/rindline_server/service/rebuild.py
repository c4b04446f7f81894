"""Folding the ledger and rolling up the readings from zero: the tables must come out the same."""

from collections.abc import Callable
from typing import NamedTuple

import msgspec

from rindline_schema.events import Event
from rindline_server.calc.air import AirRule
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.apply import Context, replay
from rindline_server.service.air.rolling import roll_all, roll_due
from rindline_server.store import Digest, Store, WriteTransaction

__all__ = ["Difference", "Rebuilt", "rebuild"]

_EVENTS_AT_A_TIME = 500
_USUAL_AIR = AirRule()
_EVENT: msgspec.json.Decoder[Event] = msgspec.json.Decoder(Event)


class Difference(NamedTuple):
    """A table that came out otherwise, and how many rows it had and has."""

    table: str
    rows_before: int
    rows_after: int


class Rebuilt(NamedTuple):
    """How many events were folded, and which tables came out otherwise than they were."""

    events: int
    differences: list[Difference]


def rebuild(
    store: Store,
    tolerance: ScaleTolerance,
    progress: Callable[[int, int], None],
    *,
    check: bool,
    air: AirRule = _USUAL_AIR,
) -> Rebuilt:
    """Write the derived tables anew from ledger and readings; with ``check``, only compare.

    All in one transaction under the head's lock: nothing can be told meanwhile, and readers see
    the old tables until the new ones are whole. ``progress`` is told how many events are done,
    and of how many; then the same of hours of air.
    """
    with store.writing() as tx:
        # What is due is no difference: it was known to be missing.
        roll_due(tx, air, lambda _done, _total: None)
        before = tx.digests()
        tx.clear_derived()
        events = tx.as_of
        done = 0
        while done < events:
            done = _fold_some(tx, done, tolerance)
            progress(done, events)
        roll_all(tx, air, progress)
        after = tx.digests()
        if check:
            tx.cancel()
    return Rebuilt(events, _differences(before, after))


def _fold_some(tx: WriteTransaction, done: int, tolerance: ScaleTolerance) -> int:
    rows = tx.bodies(done, _EVENTS_AT_A_TIME)
    events = [_EVENT.decode(body) for _, body in rows]
    world = tx.load(events, tolerance)
    # What was accepted once is not judged again, so the clock doesn't matter.
    context = Context(now_us=0, tolerance=tolerance)
    for event in events:
        replay(world, event, context)
    tx.write(world, {str(e.id): row[0] for e, row in zip(events, rows, strict=True)})
    return rows[-1][0]


def _differences(before: dict[str, Digest], after: dict[str, Digest]) -> list[Difference]:
    return [
        Difference(table, before[table].rows, after[table].rows)
        for table in before
        if before[table] != after[table]
    ]
