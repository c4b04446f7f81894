"""The service: every use case behind one door, each in one transaction of its own."""

from collections.abc import Callable, Sequence
from concurrent.futures import Future
from datetime import datetime
from uuid import UUID

from rindline.labels import LabelFormat
from rindline_schema.answers import (
    ClimateAnswer,
    CodeBlock,
    CodeBlockPage,
    CodeBlockRequest,
    ComparisonAnswer,
    ConditionsAnswer,
    DiscrepancyPage,
    DrillAnswer,
    DrillPage,
    DrillRequest,
    FeedPage,
    LotAnswer,
    LotPage,
    OriginAnswer,
    Outcome,
    Reading,
    ReadingsAnswer,
    RecordedEvent,
    Refused,
    RegisteredEntry,
    RegisterPage,
    Role,
    SensorPage,
    StationPage,
    TraceDirection,
    WeightLossAnswer,
)
from rindline_schema.events import Event
from rindline_schema.labels import LabelContent
from rindline_schema.params import (
    AsOfParams,
    ClimateParams,
    ComparisonParams,
    ConditionsParams,
    DiscrepancyParams,
    FeedParams,
    LabelParams,
    LotSearchParams,
    PageParams,
    RegisterParams,
    TraceParams,
)
from rindline_schema.problems import Problem
from rindline_schema.registers import RegisterName
from rindline_server.calc.air import AirRule
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.apply import Context
from rindline_server.ledger.times import to_us
from rindline_server.service import (
    code_blocks,
    labels,
    lots,
    origin,
    recorded,
    registers,
    stations,
    tracing,
)
from rindline_server.service.air import climate, readings, sensors
from rindline_server.service.air.rolling import Roller
from rindline_server.service.callers import Caller
from rindline_server.service.conditions.answer import conditions as lot_conditions
from rindline_server.service.drills.answer import drill_page, kept_drill, run_drill
from rindline_server.service.keys import KeyDesk
from rindline_server.service.outboxes import OutboxSays
from rindline_server.service.rebuild import Rebuilt, rebuild
from rindline_server.service.telling import Unit, try_unit
from rindline_server.service.verify import Verified, verify
from rindline_server.service.wheels import comparison, weight_loss
from rindline_server.service.writer import Writer
from rindline_server.store import KeyRow, Store

__all__ = ["Service"]

_USUAL_AIR = AirRule()


class Service:
    """All that can be told and asked. Threads may share it.

    Every method may raise ``ProblemError``, whose problem says what is wrong. ``clock`` gives the
    present moment; ``tolerance`` is how far two weighings may differ, ``air`` how readings
    become figures, ``raw_milk_days`` how old 21 CFR 133 asks cheese from raw milk to be.
    """

    def __init__(
        self,
        store: Store,
        clock: Callable[[], datetime],
        tolerance: ScaleTolerance,
        air: AirRule = _USUAL_AIR,
        raw_milk_days: int = 60,
    ) -> None:
        """Take the store, which the caller closes after :meth:`stop`."""
        self._store = store
        self._clock = clock
        self._tolerance = tolerance
        self._air = air
        self._raw_milk_days = raw_milk_days
        self._keys = KeyDesk(store)
        self._writer = Writer(store, self._context, Roller(store, air).work)

    def _context(self) -> Context:
        return Context(now_us=to_us(self._clock()), tolerance=self._tolerance, air=self._air)

    # --- running ------------------------------------------------------------------------------

    def start(self) -> None:
        """Start taking events."""
        self._writer.start()

    def stop(self, timeout_s: float) -> None:
        """Take no more events, write what was taken, and come to rest."""
        self._writer.stop(timeout_s)

    def ready(self) -> str | None:
        """Say what keeps the server from serving, or give None."""
        return self._store.check()

    def head(self) -> tuple[int, str]:
        """Give the ledger's last seq and its hash."""
        head = self._store.head()
        return head.seq, head.hash.hex()

    @property
    def waiting(self) -> int:
        """How many requests wait to be written."""
        return self._writer.waiting

    # --- upkeep -------------------------------------------------------------------------------

    def verify(self, progress: Callable[[int, int], None]) -> Verified:
        """Walk the ledger's hash chain; ``progress`` is told (events done, of how many)."""
        return verify(self._store, progress)

    def rebuild(self, progress: Callable[[int, int], None], *, check: bool) -> Rebuilt:
        """Write the derived tables anew from the ledger; with ``check``, only compare."""
        return rebuild(self._store, self._tolerance, progress, check=check, air=self._air)

    # --- keys ---------------------------------------------------------------------------------

    def who(self, key: str) -> Caller | None:
        """Give the holder of a key; None if it is unknown, expired or revoked."""
        return self._keys.who(key, self._clock())

    def who_lately(self, key: str) -> Caller | None:
        """Give the holder of a key found within the last second, at once; None says nothing."""
        return self._keys.who_lately(key, self._clock())

    def add_key(
        self,
        name: str,
        role: Role,
        *,
        site: str | None = None,
        partner: str | None = None,
        expires_at: datetime | None = None,
    ) -> str:
        """Make a key and give it: this is the only time it can be seen."""
        return self._keys.add(
            name, role, self._clock(), site=site, partner=partner, expires_at=expires_at
        )

    def list_keys(self) -> list[KeyRow]:
        """Give all keys ever made; none can be told from its row."""
        return self._keys.all()

    def revoke_key(self, prefix: str) -> bool:
        """Revoke the key that begins like this; False if there is none, or it was revoked."""
        return self._keys.revoke(prefix, self._clock())

    # --- telling ------------------------------------------------------------------------------

    def tell(
        self, caller: Caller, told: Sequence[Event | Refused], *, all_or_nothing: bool = False
    ) -> Future[list[Outcome]]:
        """Queue events; the future gives an outcome for each, once they are on disk."""
        unit = Unit.of(caller, told, all_or_nothing=all_or_nothing)
        self._writer.submit(unit)
        return unit.future

    def tell_outbox(
        self,
        caller: Caller,
        told: Sequence[Event | Refused],
        ages_ms: Sequence[int],
        says: OutboxSays,
    ) -> Future[list[Outcome]]:
        """Queue what an outbox tells, with its numbers and ages; as :meth:`tell`."""
        unit = Unit.from_outbox(caller, told, ages_ms, says, self._clock())
        self._writer.submit(unit)
        return unit.future

    def reserve_codes(self, caller: Caller, request: CodeBlockRequest) -> CodeBlock:
        """Reserve a block of lot codes for a station."""
        with self._store.writing() as tx:
            return code_blocks.reserve_codes(tx, caller, request, to_us(self._clock()))

    def tell_readings(self, caller: Caller, items: Sequence[Reading | Problem]) -> ReadingsAnswer:
        """Tell readings; a problem stands for one that could not be read, in its place."""
        answer = readings.tell_readings(self._store, caller, items, self._air, self._clock())
        if answer.recorded:
            self._writer.nudge()
        return answer

    def code_blocks(self, caller: Caller, params: PageParams) -> CodeBlockPage:
        """List the blocks of lot codes, newest first."""
        with self._store.reading() as snap:
            return code_blocks.block_page(snap, params)

    def stations(self, caller: Caller, params: PageParams) -> StationPage:
        """List the stations: who spoke last, which numbers are missing."""
        with self._store.reading() as snap:
            return stations.station_page(snap, params)

    def try_events(self, caller: Caller, told: Sequence[Event | Refused]) -> list[Outcome]:
        """Say what telling these events would answer; nothing is recorded."""
        unit = Unit.of(caller, told, all_or_nothing=False)
        with self._store.reading() as snap:
            return try_unit(snap, unit, self._context())

    # --- asking -------------------------------------------------------------------------------

    def feed(self, caller: Caller, params: FeedParams) -> FeedPage:
        """Read the ledger after a seq."""
        with self._store.reading() as snap:
            return recorded.feed_page(snap, params)

    def event(self, caller: Caller, event_id: UUID) -> RecordedEvent:
        """Read one event."""
        with self._store.reading() as snap:
            return recorded.recorded_event(snap, caller, event_id)

    def lots(self, caller: Caller, params: LotSearchParams) -> LotPage:
        """Search lots."""
        with self._store.reading() as snap:
            return lots.find_lots(snap, params)

    def lot(self, caller: Caller, lot: str, params: AsOfParams) -> LotAnswer:
        """Read one lot, now or as it stood at an earlier seq."""
        with self._store.reading() as snap:
            return lots.lot_answer(snap, caller, lot, params, self._context())

    def origin(self, caller: Caller, lot: str) -> OriginAnswer:
        """Say where a lot came from."""
        return origin.origin_for(self._store, caller, lot, self._clock())

    def trace(
        self, caller: Caller, lot: str, direction: TraceDirection, params: TraceParams
    ) -> tracing.Trace:
        """Trace a lot; write the trace out, or close it."""
        snap = self._store.snapshot()
        try:
            return tracing.open_trace(snap, lot, direction, params, self._context())
        except BaseException:
            snap.close()
            raise

    def label(self, caller: Caller, lot: str) -> LabelContent:
        """Write a lot's label."""
        with self._store.reading() as snap:
            return labels.label_content(snap, lot)

    def draw_label(self, content: LabelContent, fmt: LabelFormat, params: LabelParams) -> bytes:
        """Draw a label as SVG, PNG or PDF."""
        return labels.draw_label(content, fmt, params)

    def discrepancies(self, caller: Caller, params: DiscrepancyParams) -> DiscrepancyPage:
        """List what does not fit together."""
        with self._store.reading() as snap:
            return lots.discrepancies(snap, params)

    def register(self, caller: Caller, name: RegisterName, params: RegisterParams) -> RegisterPage:
        """List a register."""
        with self._store.reading() as snap:
            return registers.register_page(snap, name, params)

    def register_entry(self, caller: Caller, name: RegisterName, code: str) -> RegisteredEntry:
        """Read one register entry."""
        with self._store.reading() as snap:
            return registers.register_entry(snap, name, code)

    # --- air ----------------------------------------------------------------------------------

    def sensors(self, caller: Caller, params: PageParams) -> SensorPage:
        """List the sensors: where they hang, what they showed last, what is in doubt."""
        with self._store.reading() as snap:
            return sensors.sensor_page(snap, params, self._clock())

    def climate(self, caller: Caller, room: str, params: ClimateParams) -> ClimateAnswer:
        """Give the air of a room over a time."""
        with self._store.reading() as snap:
            return climate.climate(snap, room, params, self._air, self._clock())

    def conditions(self, caller: Caller, lot: str, params: ConditionsParams) -> ConditionsAnswer:
        """Give the conditions a lot lived in."""
        with self._store.reading() as snap:
            return lot_conditions(
                snap, caller, lot, params, self._air, self._raw_milk_days, self._clock()
            )

    # --- wheels side by side ------------------------------------------------------------------

    def weight_loss(self, caller: Caller, lot: str) -> WeightLossAnswer:
        """Say how a wheel, or each wheel of a make, lost weight, beside the past."""
        with self._store.reading() as snap:
            return weight_loss.weight_loss(snap, caller, lot, self._air, to_us(self._clock()))

    def comparison(self, caller: Caller, params: ComparisonParams) -> ComparisonAnswer:
        """Lay makes, rooms or shelves side by side, and wheels judged well and badly."""
        with self._store.reading() as snap:
            return comparison.comparison(snap, params, self._air, to_us(self._clock()))

    # --- drills -------------------------------------------------------------------------------

    def start_drill(self, caller: Caller, request: DrillRequest) -> DrillAnswer:
        """Run a drill and keep its answer."""
        return run_drill(self._store, caller, request, self._clock())

    def drills(self, caller: Caller, params: PageParams) -> DrillPage:
        """List drills, newest first."""
        with self._store.reading() as snap:
            return drill_page(snap, params)

    def drill(self, caller: Caller, drill_id: UUID) -> DrillAnswer:
        """Read a drill as it was answered."""
        with self._store.reading() as snap:
            return kept_drill(snap, drill_id)
