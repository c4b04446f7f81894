"""Outboxes: events with their numbers and ages, and how each station is doing."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from msgspec.structs import replace

from rindline_schema.answers import BlockUse, NumberRange, OutboxState, Outcome, Refused
from rindline_schema.answers.stations import CLOCK_TOLERANCE_MS
from rindline_schema.events import Event
from rindline_server.calc.ranges import add_numbers, count, gaps
from rindline_server.ledger.times import from_us, to_us
from rindline_server.service.callers import Caller
from rindline_server.service.code_blocks import note_use
from rindline_server.store import OutboxRow, WriteTransaction

__all__ = ["OutboxSays", "corrected", "note_outbox", "outbox_state"]

_MOST_RANGES = 100
_MILLISECOND_US = 1_000


@dataclass(frozen=True)
class OutboxSays:
    """What an outbox says besides its events: see ``OutboxBatch``; a number for each event."""

    outbox: UUID
    station_clock: datetime
    next_number: int
    queued: int
    set_aside: int
    oldest_age_ms: int | None
    blocks: Sequence[BlockUse]
    numbers: Sequence[int]


def corrected(event: Event, age_ms: int, now: datetime) -> Event:
    """Give the event with ``at`` as its age says, if the station's clock was wrong.

    What the station said is kept in ``station_at``.
    """
    try:
        at = now - timedelta(milliseconds=age_ms)
    except OverflowError:
        return event
    if abs(event.at - at) <= timedelta(milliseconds=CLOCK_TOLERANCE_MS):
        return event
    return replace(event, at=at.astimezone(event.at.tzinfo), station_at=event.at)


def note_outbox(
    tx: WriteTransaction, caller: Caller, says: OutboxSays, outcomes: Sequence[Outcome], now_us: int
) -> None:
    """Keep which numbers came and how the station is doing, with its events' own transaction."""
    came = list(zip(says.numbers, outcomes, strict=True))
    known = tx.outbox(says.outbox.bytes)
    station_us = to_us(says.station_clock)
    recorded = add_numbers(
        _ranges(known.recorded if known is not None else "[]"),
        [number for number, outcome in came if not isinstance(outcome, Refused)],
    )
    refused = add_numbers(
        _ranges(known.refused if known is not None else "[]"),
        [number for number, outcome in came if isinstance(outcome, Refused)],
    )
    # A batch that was held up on its way must not take back what a later one said.
    newest = known is None or says.next_number >= known.next_number
    row = OutboxRow(
        id=says.outbox.bytes,
        key=caller.key,
        name=caller.name,
        site=caller.site,
        heard_us=now_us,
        station_us=station_us,
        next_number=says.next_number,
        queued=says.queued,
        set_aside=says.set_aside,
        oldest_age_ms=says.oldest_age_ms,
        clock_ahead_ms=(station_us - now_us) // _MILLISECOND_US,
        recorded=json.dumps(recorded),
        refused=json.dumps(refused),
    )
    if not newest and known is not None:
        row = known._replace(heard_us=now_us, recorded=row.recorded, refused=row.refused)
    tx.put_outbox(row)
    for use in says.blocks:
        note_use(tx, caller, use)


def _ranges(text: str) -> list[tuple[int, int]]:
    return [(first, last) for first, last in json.loads(text)]


def outbox_state(row: OutboxRow) -> OutboxState:
    """Say how an outbox is doing, as far as is known here."""
    recorded, refused = _ranges(row.recorded), _ranges(row.refused)
    came = add_numbers([*recorded, *refused], ())
    missing = gaps(came, 1, row.next_number - 1)
    return OutboxState(
        outbox=UUID(bytes=row.id),
        last_heard_at=from_us(row.heard_us),
        next_number=row.next_number,
        missing=[NumberRange(first=first, last=last) for first, last in missing[:_MOST_RANGES]],
        missing_count=count(missing),
        refused_count=count(refused),
        clock_ahead_ms=row.clock_ahead_ms,
        last_number=came[-1][1] if came else None,
        queued=row.queued,
        set_aside=row.set_aside,
        oldest_age_ms=row.oldest_age_ms,
    )
