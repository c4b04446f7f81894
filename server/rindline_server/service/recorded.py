"""The ledger as it is read: the feed, and single events."""

from uuid import UUID

import msgspec

from rindline_schema.answers import FeedPage, RecordedEvent
from rindline_schema.events import Event
from rindline_schema.params import FeedParams
from rindline_server.ledger.times import from_us
from rindline_server.service.callers import Caller
from rindline_server.service.problems import no_such_thing
from rindline_server.store import ReadTransaction, RecordedRow

__all__ = ["feed_page", "recorded_event"]

_EVENT = msgspec.json.Decoder(Event)


def _recorded(row: RecordedRow) -> RecordedEvent:
    return RecordedEvent(
        seq=row.seq,
        recorded_at=from_us(row.recorded_us),
        station=row.station,
        event=_EVENT.decode(row.body),
        hash=row.hash.hex(),
        voided_by=UUID(row.voided_by) if row.voided_by is not None else None,
    )


def feed_page(snap: ReadTransaction, params: FeedParams) -> FeedPage:
    """Give events after a seq, in ledger order, none left out."""
    rows = snap.feed(params.after, params.limit)
    last = rows[-1].seq if rows else params.after
    return FeedPage(
        events=[_recorded(row) for row in rows],
        next_after=last,
        as_of=snap.as_of,
        more=last < snap.as_of,
    )


def recorded_event(snap: ReadTransaction, caller: Caller, event_id: UUID) -> RecordedEvent:
    """Give one event; a station sees those of its own site only."""
    row = snap.event(str(event_id))
    if row is not None:
        answer = _recorded(row)
        if caller.role != "station" or answer.event.site == caller.site:
            return answer
    raise no_such_thing(f"event {event_id}")
