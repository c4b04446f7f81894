"""What the fake server remembers, and the few things it judges."""

import copy
import hashlib
from collections.abc import Callable
from uuid import UUID

import msgspec

from rindline._clock import Clock
from rindline.testing._lots import CodeGiver, MadeLot, lots_made
from rindline_schema.answers import (
    GivenCode,
    Holder,
    LotAnswer,
    Outcome,
    RecordedEvent,
    Refused,
    RegisteredEntry,
    Told,
)
from rindline_schema.events import Correct, Declare, Event
from rindline_schema.faults import faults_of
from rindline_schema.problems import Problem, make_problem
from rindline_schema.registers import LotKind, Product

__all__ = ["Record"]

Rule = Callable[[Event], Problem | None]


class Record:
    """Events in the order they were told, by id; the lots they made; the registers."""

    def __init__(self, site: str, clock: Clock) -> None:
        self.site = site
        self._clock = clock
        self.codes = CodeGiver()
        self._told: dict[UUID, tuple[bytes, Told]] = {}
        self.events: list[RecordedEvent] = []
        self.lots: dict[str, LotAnswer] = {}
        self.entries: dict[tuple[str, str], RegisteredEntry] = {}
        self.rules: list[Rule] = []

    def trial(self) -> "Record":
        """Give a copy to try events on."""
        twin = copy.copy(self)
        for name in ("_told", "events", "lots", "entries"):
            setattr(twin, name, copy.copy(getattr(self, name)))
        # Codes given in the trial are passed over afterwards, as a server may do, too.
        return twin

    def tell(self, body: bytes) -> Outcome:
        """Record an encoded event, or say why not."""
        try:
            event: Event = msgspec.json.decode(body, type=Event)
        except msgspec.MsgspecError as error:
            return Refused(problem=make_problem("malformed", str(error)))
        content = msgspec.json.encode(event)
        if event.id in self._told:
            before, told = self._told[event.id]
            if before == content:
                return msgspec.structs.replace(told, replay=True)
            return _refused(event, make_problem("id_reused", f"{event.id} was told otherwise"))
        made = [self._coded(event, lot) for lot in lots_made(event, self._kind_of)]
        problem = self._problem(event, [code for code, _ in made])
        if problem is not None:
            return _refused(event, problem)
        return self._keep(event, content, made)

    def _kind_of(self, product: str) -> LotKind | None:
        registered = self.entries.get(("product", product))
        if registered is not None and isinstance(registered.entry, Product):
            return registered.entry.kind
        return None

    def _coded(self, event: Event, lot: MadeLot) -> tuple[str, MadeLot]:
        return lot.code or self.codes.give(event.site or self.site, event.at, lot.kind), lot

    def _problem(self, event: Event, codes: list[str]) -> Problem | None:
        faults = faults_of(event)
        if faults:
            return make_problem("not_valid", "see the faults", faults=faults)
        for code in codes:
            if code in self.lots or codes.count(code) > 1:
                return make_problem("lot_exists", f"{code} was made before", lot=code)
        if isinstance(event, Correct) and self._position(event.event, voided=True) is not None:
            return make_problem("already_corrected", f"{event.event} no longer counts")
        return next((problem for rule in self.rules if (problem := rule(event))), None)

    def _position(self, event_id: UUID, *, voided: bool) -> int | None:
        for position, recorded in enumerate(self.events):
            if recorded.event.id == event_id and (recorded.voided_by is not None) == voided:
                return position
        return None

    def _keep(self, event: Event, content: bytes, made: list[tuple[str, MadeLot]]) -> Told:
        seq = len(self.events) + 1
        now = self._clock.now()
        before = self.events[-1].hash if self.events else ""
        digest = hashlib.sha256(before.encode() + content).hexdigest()
        self.events.append(
            RecordedEvent(seq=seq, recorded_at=now, station="fake", event=event, hash=digest)
        )
        if isinstance(event, Declare):
            entry = event.entry
            registered = RegisteredEntry(
                code=entry.code, entry=entry, since=event.at, event_id=event.id
            )
            self.entries[str(entry.__struct_config__.tag), entry.code] = registered
        if isinstance(event, Correct):
            position = self._position(event.event, voided=False)
            if position is not None:
                self.events[position] = msgspec.structs.replace(
                    self.events[position], voided_by=event.id
                )
        for code, lot in made:
            self.lots[code] = self._lot(event, code, lot, seq)
        given = [GivenCode(pointer=lot.pointer, lot=code) for code, lot in made if not lot.code]
        told = Told(id=event.id, seq=seq, recorded_at=now, lots=given)
        self._told[event.id] = content, told
        return told

    def _lot(self, event: Event, code: str, lot: MadeLot, seq: int) -> LotAnswer:
        site = event.site or self.site
        holder = Holder(
            where="site", holder=site, room=lot.room, mass_g=lot.mass_g, count=lot.count
        )
        return LotAnswer(
            lot=code,
            kind=lot.kind,
            state="on_hand",
            site=site,
            as_of=seq,
            product=lot.product,
            made_at=event.at,
            made_g=lot.mass_g,
            made_count=lot.count,
            holders=[holder],
        )


def _refused(event: Event, problem: Problem) -> Refused:
    return Refused(problem=problem, id=str(event.id))
