"""The events in an outbox: kept, given out for sending, settled, set aside, mended."""

from collections.abc import Collection, Sequence
from dataclasses import astuple, dataclass, field
from typing import Any
from uuid import UUID

import msgspec

from rindline._clock import Clock
from rindline._making import new_id
from rindline.errors import InvalidInputError
from rindline.outbox._ages import Ages, Moment, wall_ms
from rindline.outbox._entries import EntryState, OutboxEntry, Queued
from rindline.outbox._file import Connection, OutboxFile
from rindline.outbox._sharing import SharedCommits, Waiting
from rindline_schema.answers import NumberRange, Outcome, Refused
from rindline_schema.events import Event

__all__ = ["Kept", "Queue"]

_RECORDED_KEPT = 1000
_MOST_BYTES = 1024 * 1024
_NEXT_NUMBER = "SELECT coalesce(max(number), 0) + 1 FROM events"
_COLUMNS = "number, id, state, event, outcome, mended_by"

_events: msgspec.json.Decoder[Event] = msgspec.json.Decoder(Event)
_outcomes: msgspec.json.Decoder[Outcome] = msgspec.json.Decoder(Outcome)


@dataclass(frozen=True, slots=True)
class Kept:
    """A queued event as it goes out: encoded, with its number and the age its ``at`` has now."""

    number: int
    id: str
    event: bytes
    age_ms: int
    queued_ms: int


@dataclass(slots=True, kw_only=True)
class _Waiting(Waiting):
    """Events of one thread that wait for the next commit, and what came of them."""

    events: Sequence[Event]
    told: Moment
    at_age_ms: int | None = None
    kept: list[Queued] = field(default_factory=list)


class Queue:
    """The events of one file. Safe with threads; what they tell at once is synced at once."""

    def __init__(self, file: OutboxFile, clock: Clock) -> None:
        self.ages = Ages(file, clock)
        self._file = file
        self._clock = clock
        self._commits = SharedCommits[_Waiting](file, self._insert)

    # --- telling ------------------------------------------------------------------------------

    def keep(self, events: Sequence[Event]) -> list[Queued]:
        """Put events on disk, all or none; an event that is there already keeps its number."""
        waiting = _Waiting(events=events, told=self.ages.now())
        self._commits.commit(waiting)
        return waiting.kept

    def _insert(self, connection: Connection, waiting: _Waiting) -> None:
        [(number,)] = connection.execute(_NEXT_NUMBER).fetchall()
        fresh: dict[str, tuple[int, bytes]] = {}
        kept = []
        for event in waiting.events:
            name, body = str(event.id), msgspec.json.encode(event)
            known = fresh.get(name) or _known(connection, name)
            if known is None:
                known = fresh[name] = number, body
                number += 1
            elif known[1] != body:
                waiting.error = InvalidInputError(
                    f"The id {name} was already told with other content: use a new id for each "
                    "event. Nothing of this was told."
                )
                return
            kept.append(Queued(id=event.id, number=known[0]))
        told = waiting.told
        for event in waiting.events:
            found = fresh.pop(str(event.id), None)
            if found is not None:
                age_ms = waiting.at_age_ms
                if age_ms is None:
                    age_ms = told.wall_ms - wall_ms(event.at)
                connection.execute(
                    "INSERT INTO events (number, id, state, event, boot, steady_ms, wall_ms,"
                    " at_age_ms) VALUES (?, ?, 'queued', ?, ?, ?, ?, ?)",
                    (found[0], str(event.id), found[1], *astuple(told), age_ms),
                )
        waiting.kept = kept

    # --- sending ------------------------------------------------------------------------------

    def next_batch(self, limit: int, now: Moment, without: Collection[int] = ()) -> list[Kept]:
        """Give the first queued events in the order of their numbers, at most about 1 MiB."""
        rows = self._file.rows(
            "SELECT number, id, event, boot, steady_ms, wall_ms, at_age_ms FROM events"
            " WHERE state = 'queued' ORDER BY number LIMIT ?",
            (limit + len(without),),
        )
        batch: list[Kept] = []
        size = 0
        for number, name, body, boot, steady_ms, told_ms, at_age_ms in rows:
            if number in without:
                continue
            size += len(body)
            if len(batch) == limit or (batch and size > _MOST_BYTES):
                break
            queued_ms = self.ages.since_ms(Moment(boot, steady_ms, told_ms), now)
            batch.append(Kept(number, name, bytes(body), queued_ms + at_age_ms, queued_ms))
        return batch

    def settle(self, answered: Sequence[tuple[int, Outcome]]) -> None:
        """Keep what the server answered; a refusal that may pass leaves its event in the queue."""
        with self._file.transaction() as connection:
            for number, outcome in answered:
                state: EntryState = "recorded"
                if isinstance(outcome, Refused):
                    if outcome.problem.retryable:
                        continue
                    state = "set_aside"
                connection.execute(
                    "UPDATE events SET state = ?, outcome = ? WHERE number = ?",
                    (state, msgspec.json.encode(outcome), number),
                )
            connection.execute(
                "DELETE FROM events WHERE state = 'recorded'"
                f" AND number < ({_NEXT_NUMBER}) - {_RECORDED_KEPT}"
            )

    # --- looking, mending ---------------------------------------------------------------------

    def counts(self) -> tuple[int, int, int]:
        """Give how many are queued, how many set aside, and the next number."""
        return self._file.rows(
            "SELECT (SELECT count(*) FROM events WHERE state = 'queued'),"
            " (SELECT count(*) FROM events WHERE state = 'set_aside'),"
            f" ({_NEXT_NUMBER})"
        )[0]

    def waiting(self) -> list[NumberRange]:
        """Give the numbers that are queued or set aside, as ranges."""
        rows = self._file.rows(
            "SELECT min(number), max(number) FROM (SELECT number, number - row_number() OVER"
            " (ORDER BY number) AS run FROM events WHERE state IN ('queued', 'set_aside'))"
            " GROUP BY run ORDER BY run"
        )
        return [NumberRange(first=first, last=last) for first, last in rows]

    def entries(self, *states: EntryState) -> list[OutboxEntry]:
        """Give the events in some states, by number."""
        marks = ", ".join("?" * len(states))
        rows = self._file.rows(
            f"SELECT {_COLUMNS} FROM events WHERE state IN ({marks}) ORDER BY number",
            states,
        )
        return [_entry(row) for row in rows]

    def entry(self, event_id: UUID) -> OutboxEntry:
        """Give one event; raises :class:`InvalidInputError` if it is not here."""
        rows = self._file.rows(
            f"SELECT {_COLUMNS} FROM events WHERE id = ?",
            (str(event_id),),
        )
        if not rows:
            raise InvalidInputError(f"There is no event {event_id} in {self._file.path}.")
        return _entry(rows[0])

    def resend(self, event_id: UUID | None) -> int:
        """Queue a refused event again as it is, or all of them; gives how many."""
        chosen = self.entries("set_aside")
        if event_id is not None:
            chosen = [self._refused(event_id)]
        with self._file.transaction() as connection:
            for entry in chosen:
                connection.execute(
                    "UPDATE events SET state = 'queued' WHERE number = ? AND state = 'set_aside'",
                    (entry.number,),
                )
        return len(chosen)

    def mend(self, event_id: UUID, event: Event) -> Queued:
        """Queue ``event`` under a new id in the stead of a refused one, in one transaction."""
        old = self._refused(event_id)
        fresh = msgspec.structs.replace(event, id=new_id(self._clock))
        [(boot, steady_ms, told_ms, at_age_ms)] = self._file.rows(
            "SELECT boot, steady_ms, wall_ms, at_age_ms FROM events WHERE number = ?",
            (old.number,),
        )
        if event.at == old.event.at:
            # Said by the clock of then, so its age is the old one's.
            told = Moment(boot, steady_ms, told_ms)
            waiting = _Waiting(events=[fresh], told=told, at_age_ms=at_age_ms)
        else:
            waiting = _Waiting(events=[fresh], told=self.ages.now())
        with self._file.transaction() as connection:
            self._insert(connection, waiting)
            connection.execute(
                "UPDATE events SET state = 'mended', mended_by = ? WHERE number = ?",
                (str(fresh.id), old.number),
            )
        return waiting.kept[0]

    def _refused(self, event_id: UUID) -> OutboxEntry:
        entry = self.entry(event_id)
        if entry.state != "set_aside":
            raise InvalidInputError(
                f"The event {event_id} is {entry.state.replace('_', ' ')}: only one that is set "
                "aside can be mended or sent again."
            )
        return entry


def _known(connection: Connection, name: str) -> tuple[int, bytes] | None:
    rows = connection.execute("SELECT number, event FROM events WHERE id = ?", (name,)).fetchall()
    return (rows[0][0], bytes(rows[0][1])) if rows else None


def _entry(row: tuple[Any, ...]) -> OutboxEntry:
    number, name, state, event, outcome, mended_by = row
    answered = _outcomes.decode(outcome) if outcome is not None else None
    return OutboxEntry(
        number=number,
        id=UUID(name),
        state=state,
        event=_events.decode(event),
        outcome=answered,
        problem=answered.problem if isinstance(answered, Refused) else None,
        mended_by=UUID(mended_by) if mended_by else None,
    )
