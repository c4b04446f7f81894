"""Telling events inside one transaction: known ids, all-or-nothing, dry runs."""

from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from uuid import UUID

import msgspec

from rindline_schema.answers import Outcome, Refused, Told
from rindline_schema.events import Correct, Event
from rindline_schema.faults import faults_of
from rindline_schema.problems import Problem, make_problem
from rindline_server.ledger.apply import Context, RefusalError, apply
from rindline_server.ledger.completing import with_site
from rindline_server.ledger.times import from_us
from rindline_server.ledger.world import World
from rindline_server.service.air.due import mark_declared
from rindline_server.service.callers import Caller, may_not_tell
from rindline_server.service.outboxes import OutboxSays, corrected, note_outbox
from rindline_server.store import Known, LedgerRow, ReadTransaction, WriteTransaction

__all__ = ["Telling", "Unit", "tell_units", "try_unit"]

_ENCODER = msgspec.json.Encoder()
_TOLD = msgspec.json.Decoder(Told)


@dataclass
class Telling:
    """One event on its way: as told, with its site filled in, and the digest of its content."""

    event: Event
    digest: bytes
    refused: Problem | None


@dataclass
class Unit:
    """What one request tells; ``items`` keep the place of what could not even be read."""

    caller: Caller
    items: list[Telling | Refused]
    all_or_nothing: bool = False
    says: OutboxSays | None = None
    future: "Future[list[Outcome]]" = field(default_factory=Future)

    @classmethod
    def of(cls, caller: Caller, told: Sequence[Event | Refused], *, all_or_nothing: bool) -> "Unit":
        """Prepare a request: the digest is over the content told, before anything is added."""
        items: list[Telling | Refused] = []
        for event in told:
            if isinstance(event, Refused):
                items.append(event)
                continue
            digest = sha256(_ENCODER.encode(event)).digest()
            sited = with_site(event, caller.site)
            items.append(Telling(sited, digest, _invalid(sited) or may_not_tell(caller, sited)))
        return cls(caller, items, all_or_nothing)

    @classmethod
    def from_outbox(
        cls,
        caller: Caller,
        told: Sequence[Event | Refused],
        ages_ms: Sequence[int],
        says: OutboxSays,
        now: datetime,
    ) -> "Unit":
        """Prepare what an outbox tells: times by the events' ages where its clock was wrong.

        What is wrong with an event is judged, and its digest taken, as it was told.
        """
        unit = cls.of(caller, told, all_or_nothing=False)
        unit.says = says
        for item, age_ms in zip(unit.items, ages_ms, strict=True):
            if isinstance(item, Telling):
                item.event = corrected(item.event, age_ms, now)
        return unit

    @property
    def events(self) -> list[Event]:
        """The events that may be recorded."""
        return [
            item.event for item in self.items if isinstance(item, Telling) and item.refused is None
        ]


def _invalid(event: Event) -> Problem | None:
    """Say all that is wrong with an event by itself, or give None."""
    faults = faults_of(event)
    if not faults:
        return None
    detail = f"{faults[0].pointer}: {faults[0].detail}"
    return make_problem("not_valid", detail, faults=faults)


class _Session:
    """The events of one transaction: what is known of ids, the world, the rows to append."""

    def __init__(self, world: World, known: dict[str, Known], seq: int, context: Context) -> None:
        self.world = world
        self.known = known
        self.seq = seq
        self.context = context
        self.rows: list[LedgerRow] = []

    def fork(self) -> "_Session":
        copy = _Session(self.world.fork(), dict(self.known), self.seq, self.context)
        copy.rows = list(self.rows)
        return copy

    def tell(self, caller: Caller, item: Telling) -> Outcome:
        event_id = str(item.event.id)
        known = self.known.get(event_id)
        if known is not None:
            return _again(item, known)
        if item.refused is not None:
            return Refused(id=event_id, problem=item.refused)
        replacement = item.event.replacement if isinstance(item.event, Correct) else None
        if replacement is not None and str(replacement.id) in self.known:
            problem = make_problem("id_reused", f"{replacement.id} was told before")
            return Refused(id=event_id, problem=problem)
        try:
            recorded = apply(self.world, item.event, self.context)
        except RefusalError as refusal:
            return Refused(id=event_id, problem=refusal.problem)
        self.seq += 1
        told = Told(
            id=item.event.id,
            seq=self.seq,
            recorded_at=from_us(self.context.now_us),
            lots=list(recorded.given),
            warnings=list(recorded.warnings),
        )
        row = LedgerRow(
            seq=self.seq,
            id=event_id,
            replacement_id=str(replacement.id) if replacement is not None else None,
            station=caller.name,
            recorded_us=self.context.now_us,
            told_hash=item.digest,
            body=_ENCODER.encode(recorded.event),
            answer=_ENCODER.encode(told),
        )
        self.rows.append(row)
        self.known[event_id] = Known(row.seq, row.told_hash, row.answer, is_replacement=False)
        if replacement is not None:
            self.known[str(replacement.id)] = Known(
                row.seq, row.told_hash, row.answer, is_replacement=True
            )
        return told


def _again(item: Telling, known: Known) -> Outcome:
    """Answer an id told before: the first answer if the content is the same."""
    if known.is_replacement or known.told_hash != item.digest:
        problem = make_problem(
            "id_reused",
            f"{item.event.id} was recorded as seq {known.seq} with other content",
        )
        return Refused(id=str(item.event.id), problem=problem)
    return msgspec.structs.replace(_TOLD.decode(known.answer), replay=True)


def _tell_unit(session: _Session, unit: Unit) -> tuple[_Session, list[Outcome]]:
    """Tell one request; gives the session to go on with."""
    trial = session.fork() if unit.all_or_nothing else session
    outcomes = [
        item if isinstance(item, Refused) else trial.tell(unit.caller, item) for item in unit.items
    ]
    if not unit.all_or_nothing or not any(isinstance(o, Refused) for o in outcomes):
        return trial, outcomes
    return session, [
        outcome if isinstance(outcome, Refused) or outcome.replay else _not_told(outcome.id)
        for outcome in outcomes
    ]


def _not_told(event_id: UUID) -> Refused:
    problem = make_problem("not_told", f"{event_id} would have been recorded")
    return Refused(id=str(event_id), problem=problem)


def _ids(units: Sequence[Unit]) -> list[str]:
    ids: list[str] = []
    for unit in units:
        for item in unit.items:
            if isinstance(item, Telling):
                ids.append(str(item.event.id))
                if isinstance(item.event, Correct) and item.event.replacement is not None:
                    ids.append(str(item.event.replacement.id))
    return ids


def tell_units(
    tx: WriteTransaction, units: Sequence[Unit], context: Context
) -> list[list[Outcome]]:
    """Tell the events of several requests in one transaction; an outcome for each event.

    Nothing is on disk before the transaction commits.
    """
    known = tx.known(_ids(units))
    events = [e for unit in units for e in unit.events if str(e.id) not in known]
    session = _Session(tx.load(events, context.tolerance), known, tx.head.seq, context)
    answers: list[list[Outcome]] = []
    for unit in units:
        session, outcomes = _tell_unit(session, unit)
        answers.append(outcomes)
        if unit.says is not None:
            note_outbox(tx, unit.caller, unit.says, outcomes, context.now_us)
    if session.rows:
        registers, world = tx.registers, session.world
        tx.append(session.rows)
        tx.write(world, {row.id: row.seq for row in session.rows})
        changed = [version[:2] for version in (*world.new_versions, *world.void_versions)]
        mark_declared(tx, registers, world.registers, changed, context.air)
    return answers


def try_unit(snap: ReadTransaction, unit: Unit, context: Context) -> list[Outcome]:
    """Say what telling these events would answer; nothing is recorded."""
    known = snap.known(_ids([unit]))
    events = [event for event in unit.events if str(event.id) not in known]
    session = _Session(snap.load(events, context.tolerance), known, snap.as_of, context)
    return _tell_unit(session, unit)[1]
