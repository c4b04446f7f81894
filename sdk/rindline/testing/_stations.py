"""What the fake server answers to stations: outbox batches, blocks of codes, who last spoke."""

from datetime import datetime
from uuid import UUID

import msgspec

from rindline._clock import Clock
from rindline.testing._record import Record
from rindline_schema.answers import (
    BlockUse,
    CodeBlock,
    CodeBlockPage,
    CodeBlockRequest,
    CodeBlockState,
    NumberRange,
    OutboxState,
    Outcome,
    Refused,
    StationPage,
    StationState,
)
from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.problems import Problem, make_problem
from rindline_schema.quantities import Time

__all__ = ["Stations"]


class _Item(msgspec.Struct, forbid_unknown_fields=True):
    number: int
    age_ms: int
    event: msgspec.Raw


class _Batch(msgspec.Struct, forbid_unknown_fields=True):
    """An ``OutboxBatch`` whose events are not yet read: each has an outcome of its own."""

    outbox: UUID
    station_clock: Time
    next_number: int
    queued: int = 0
    set_aside: int = 0
    oldest_age_ms: int | None = None
    items: list[_Item] = []
    blocks: list[BlockUse] = []


class _Outbox:
    def __init__(self) -> None:
        self.heard: dict[int, Outcome] = {}
        self.last: _Batch | None = None
        self.last_at: datetime | None = None


class Stations:
    """Outboxes by their ids, and blocks of codes. It corrects no times: see the real server."""

    def __init__(self, record: Record, clock: Clock) -> None:
        self._record = record
        self._clock = clock
        self._outboxes: dict[UUID, _Outbox] = {}
        self._asked: dict[UUID, CodeBlockRequest] = {}
        self._blocks: dict[UUID, CodeBlock] = {}
        self._uses: dict[UUID, BlockUse] = {}

    def tell(self, body: bytes) -> list[Outcome] | Problem:
        """Record a batch."""
        try:
            batch = msgspec.json.decode(body, type=_Batch)
        except msgspec.MsgspecError as error:
            return make_problem("malformed", str(error))
        outbox = self._outboxes.setdefault(batch.outbox, _Outbox())
        outbox.last, outbox.last_at = batch, self._clock.now()
        for use in batch.blocks:
            known = self._uses.get(use.block)
            # A batch that was held up on its way must not take back what a later one said.
            if known is None or use.stamped_to >= known.stamped_to:
                self._uses[use.block] = use
        outcomes = []
        for item in batch.items:
            outcome = self._record.tell(bytes(item.event))
            outcomes.append(outcome)
            outbox.heard[item.number] = outcome
        return outcomes

    def reserve(self, body: bytes) -> CodeBlock | Problem:
        """Give out a block; the same request gets the same one."""
        try:
            asked = msgspec.json.decode(body, type=CodeBlockRequest)
        except msgspec.MsgspecError as error:
            return make_problem("malformed", str(error))
        known = self._asked.setdefault(asked.id, asked)
        if known != asked:
            return make_problem("id_reused", f"{asked.id} asked for another block")
        if asked.id not in self._blocks:
            self._blocks[asked.id] = self._new_block(asked)
        return self._blocks[asked.id]

    def stations(self) -> StationPage:
        """List what was heard."""
        states = [_state(name, outbox) for name, outbox in self._outboxes.items()]
        station = StationState(
            key="fake",
            name="fake",
            last_heard_at=max((state.last_heard_at for state in states), default=None),
            outboxes=states,
        )
        return StationPage(stations=[station], as_of=len(self._record.events))

    def blocks(self) -> CodeBlockPage:
        """List the blocks, newest first."""
        states = [self._block_state(block) for block in reversed(self._blocks.values())]
        return CodeBlockPage(blocks=states, as_of=len(self._record.events))

    def _new_block(self, asked: CodeBlockRequest) -> CodeBlock:
        site = asked.site or self._record.site
        serials = self._record.codes.reserve(site, asked.day, asked.kind, asked.count)
        return CodeBlock(
            id=asked.id,
            site=site,
            day=asked.day,
            kind=asked.kind,
            prefix=lot_code_prefix(site, asked.day, asked.kind),
            first_serial=serials[0],
            last_serial=serials[-1],
            codes=asked.count,
            reserved_at=self._clock.now(),
        )

    def _block_state(self, block: CodeBlock) -> CodeBlockState:
        use = self._uses.get(block.id, BlockUse(block=block.id))
        stamped = [
            code
            for serial in range(block.first_serial, use.stamped_to + 1)
            if (code := lot_code(block.prefix, serial)) is not None
        ]
        spoiled = {lot_code(block.prefix, serial) for serial in use.spoiled}
        heard = [code for code in stamped if code in self._record.lots]
        unheard = [code for code in stamped if code not in {*heard, *spoiled}]
        return CodeBlockState(
            **msgspec.structs.asdict(block),
            station="fake",
            stamped=len(stamped),
            heard=len(heard),
            unheard=len(unheard),
            spoiled=len(spoiled),
            unused=block.codes - len(stamped),
            closed=use.closed,
            unheard_lots=unheard[:100],
        )


def _state(name: UUID, outbox: _Outbox) -> OutboxState:
    assert outbox.last is not None
    assert outbox.last_at is not None
    batch = outbox.last
    missing: list[NumberRange] = []
    for number in range(1, batch.next_number):
        if number in outbox.heard:
            continue
        if missing and missing[-1].last == number - 1:
            missing[-1] = NumberRange(first=missing[-1].first, last=number)
        else:
            missing.append(NumberRange(first=number, last=number))
    skew = batch.station_clock - outbox.last_at
    return OutboxState(
        outbox=name,
        last_heard_at=outbox.last_at,
        next_number=batch.next_number,
        missing=missing[:100],
        missing_count=sum(one.last - one.first + 1 for one in missing),
        refused_count=sum(isinstance(one, Refused) for one in outbox.heard.values()),
        clock_ahead_ms=int(skew.total_seconds() * 1000),
        last_number=max(outbox.heard, default=None),
        queued=batch.queued,
        set_aside=batch.set_aside,
        oldest_age_ms=batch.oldest_age_ms,
    )
