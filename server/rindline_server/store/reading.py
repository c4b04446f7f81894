"""Reading: everything that is asked, from one snapshot of the record."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

from sqlalchemy import Table

from rindline_schema.events import Event
from rindline_server.calc.air import Tally
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.entries import Entry, EntryKind
from rindline_server.ledger.world import Registers, World
from rindline_server.store import (
    air,
    conditions,
    drills,
    due,
    finding,
    keys,
    ledger_rows,
    loading,
    lots,
    readings,
    stations,
    tracing,
    wheels,
)
from rindline_server.store.air import DoubtRow
from rindline_server.store.air_tables import AIR_DUE, DOUBTS_DUE
from rindline_server.store.conditions import Ancestry, DeedRow, StayRow
from rindline_server.store.due import Due
from rindline_server.store.held import held_among, held_by_kin
from rindline_server.store.link import Link
from rindline_server.store.register_rows import RegisterShelf
from rindline_server.store.rows import (
    BalanceRow,
    DiscrepancyRow,
    DrillRow,
    Head,
    HoldingRow,
    KeyRow,
    Known,
    LotFilter,
    LotRow,
    Origin,
    Reached,
    RecordedRow,
    SendingRow,
    TraceRow,
)
from rindline_server.store.stations import CodeBlockRow, OutboxRow
from rindline_server.store.tracing import Direction
from rindline_server.store.verifying import LedgerFault, first_fault
from rindline_server.store.wheels import MarkRow, WheelFilter, WheelRow

__all__ = ["Direction", "Pointers", "ReadTransaction"]


class Pointers(NamedTuple):
    """The head row."""

    seq: int
    hash: bytes
    next_lot_id: int
    register_seq: int


_HEAD = "SELECT seq, hash, next_lot_id, register_seq FROM head WHERE id = 1"


class ReadTransaction:
    """One snapshot. Close it (or leave its ``with``) when done: it holds a connection."""

    def __init__(self, link: Link, shelf: RegisterShelf, *, locked: bool = False) -> None:
        """Take a connection whose transaction has begun; ``locked`` waits for the head's lock."""
        self._link = link
        self._shelf = shelf
        # On SQLite the transaction itself is the lock.
        lock = " FOR UPDATE" if locked and link.dialect == "postgresql" else ""
        row = link.row(_HEAD + lock)
        assert row is not None
        self._pointers = Pointers(*row)
        self._folded_to = self._pointers.seq
        self._without_due: frozenset[str] | None = None

    @property
    def head(self) -> Head:
        """The end of the ledger in this snapshot."""
        return Head(self._pointers.seq, self._pointers.hash)

    @property
    def as_of(self) -> int:
        """The ``seq`` this snapshot holds for."""
        return self._pointers.seq

    def close(self) -> None:
        """Give the connection back; safe to call twice, from any thread."""
        self._link.close()

    # --- for judging events -------------------------------------------------------------------

    def known(self, ids: Sequence[str]) -> dict[str, Known]:
        """Give what was answered to the ids among these that were told before.

        Ids of replacements told inside corrections are among them.
        """
        return ledger_rows.known(self._link, ids)

    def load(self, events: Sequence[Event], tolerance: ScaleTolerance) -> World:
        """Load all that is needed to judge these events (sites filled in), whatever their order.

        None of them is known yet.
        """
        return self._load(events, tolerance).world

    def _load(self, events: Sequence[Event], tolerance: ScaleTolerance) -> loading.Loaded:
        return loading.load(self._link, events, self.registers, tolerance, self._folded_to)

    # --- the ledger and the registers ---------------------------------------------------------

    def feed(self, after: int, limit: int) -> list[RecordedRow]:
        """Give the events after a ``seq``, in order."""
        return ledger_rows.feed(self._link, after, limit)

    def event(self, event_id: str) -> RecordedRow | None:
        """Give one event by its id, or the correction it was told in."""
        return ledger_rows.find(self._link, event_id)

    def bodies(self, after: int, limit: int) -> list[tuple[int, bytes]]:
        """Give ``seq`` and body of the events after a ``seq``, in order."""
        return ledger_rows.bodies(self._link, after, limit)

    def first_fault(self, progress: Callable[[int], None]) -> LedgerFault | None:
        """Walk the whole ledger; give where it is not as it was written, or None.

        ``progress`` is told how many rows are done.
        """
        return first_fault(self._link, self.head, progress)

    @property
    def registers(self) -> Registers:
        """All register entries' versions in force; shared: do not change it."""
        return self._shelf.get(self._link, self._pointers.register_seq)

    # --- lots ---------------------------------------------------------------------------------

    def lot(self, code: str) -> LotRow | None:
        """Give one lot; None if no event in this snapshot ever mentioned it."""
        return lots.find(self._link, code)

    def lot_ids(self, codes: Sequence[str]) -> dict[str, int]:
        """Give the ids of the lots among these that were ever mentioned, by code."""
        return lots.ids_of(self._link, codes)

    def lot_codes(self, ids: Sequence[int]) -> Mapping[int, str]:
        """Give the codes of lots by id."""
        return lots.codes_of(self._link, ids)

    def find_lots(self, which: LotFilter, after: str | None, limit: int) -> list[LotRow]:
        """Give lots in order of their codes, from the first code after ``after`` on."""
        return finding.find_lots(self._link, which, after, limit)

    def holdings(self, ids: Sequence[int]) -> list[HoldingRow]:
        """Give who holds how much of these lots."""
        return lots.holdings(self._link, ids)

    def holds_world(self, codes: Sequence[str]) -> World:
        """Load what ``ledger.holds.holds_at`` needs for these lots: light books and parents."""
        return loading.load_holds_world(self._link, codes)

    def held_among(self, ids: Sequence[int]) -> set[int]:
        """Give those of these lots that are held now, by their own or a spreading hold."""
        return held_among(self._link, ids)

    def held_by_kin(self, ids: Sequence[int]) -> set[int]:
        """Give those of these lots that a spreading hold reaches, also those it was put on."""
        return held_by_kin(self._link, ids)

    def discrepancies(
        self,
        after: str | None,
        limit: int,
        *,
        settled: bool | None = None,
        lots: Sequence[int] | None = None,
    ) -> list[DiscrepancyRow]:
        """Give discrepancies in order of their ids after ``after``.

        ``settled``: only those with (or without) a finding in force. ``lots``: only of these.
        """
        return finding.find_discrepancies(self._link, after, limit, settled=settled, lots=lots)

    # --- traces -------------------------------------------------------------------------------

    def reach(self, ids: Sequence[int], direction: Direction) -> Reached:
        """Give the lots reached from these, with their steps, and the edges between them."""
        return tracing.reach(self._link, ids, direction)

    def traced_lots(self, steps: Mapping[int, int]) -> Iterator[TraceRow]:
        """Give the lots with these ids and their holders, in the order ``reach`` has them in.

        They are fetched as they are taken. A lot's rows follow one another.
        """
        return tracing.traced_lots(self._link, steps)

    def origin(self, code: str) -> Origin | None:
        """Give a lot with all it was made of; None if it was never mentioned."""
        return tracing.origin(self._link, code)

    def balances(self, ids: Sequence[int]) -> list[BalanceRow]:
        """Give the sums over these lots, by kind."""
        return lots.balances(self._link, ids)

    def sendings(self, ids: Sequence[int]) -> list[SendingRow]:
        """Give what of these lots left for partners, in order of time."""
        return lots.sendings(self._link, ids)

    # --- the record as it stood earlier -------------------------------------------------------

    def reach_as_of(self, ids: Sequence[int], direction: Direction, seq: int) -> Reached:
        """Give what :meth:`reach` gives, as it stood at ``seq``."""
        return tracing.reach_as_of(self._link, ids, direction, seq)

    def entries_as_of(self, ids: Sequence[int], seq: int) -> dict[str, list[Entry]]:
        """Give each lot's entries as they stood at ``seq``, by code.

        A lot first mentioned later is missing; one whose entries were all void by then has none.
        """
        return lots.entries_as_of(self._link, ids, seq)

    # --- stations -----------------------------------------------------------------------------

    def outbox(self, outbox_id: bytes) -> OutboxRow | None:
        """Give one outbox of a station."""
        return stations.outbox(self._link, outbox_id)

    def outboxes(self) -> list[OutboxRow]:
        """Give all outboxes, by the name of their station."""
        return stations.outboxes(self._link)

    def code_block(self, block_id: bytes) -> CodeBlockRow | None:
        """Give one block of lot codes."""
        return stations.code_block(self._link, block_id)

    def code_blocks(self, before: tuple[int, bytes] | None, limit: int) -> list[CodeBlockRow]:
        """Give blocks, newest first, from those before (reserved_us, id) on."""
        return stations.code_blocks(self._link, before, limit)

    def last_serial(self, prefix: str) -> int:
        """Give the last serial under a prefix that was given, told or reserved; 0 if none was."""
        return stations.last_serial(self._link, prefix)

    def born_among(self, codes: Sequence[str]) -> set[str]:
        """Give those of these lot codes that a recorded event made a lot of."""
        return stations.born_among(self._link, codes)

    def all_keys(self) -> list[KeyRow]:
        """Give all keys, newest last."""
        return keys.every(self._link)

    # --- air ----------------------------------------------------------------------------------

    def readings(
        self, sensor: str, from_us: int, until_us: int
    ) -> list[tuple[int, int | None, int | None]]:
        """Give what a sensor showed from one time to another, both included, in order.

        Each reading: microseconds since 1970, thousandths of a degree Celsius and of a percent,
        as the sensor said them, without any offset.
        """
        return readings.readings(self._link, sensor, from_us, until_us)

    def reading_span(self, sensor: str, from_us: int, until_us: int) -> tuple[int, int] | None:
        """Give when a sensor's first and last reading between two times were taken, if any."""
        return readings.span(self._link, sensor, from_us, until_us)

    def sensors_read(self) -> list[str]:
        """Give the sensors that have readings, declared or not."""
        return readings.sensors(self._link)

    def last_readings(
        self, sensors: Sequence[str]
    ) -> dict[str, tuple[int, int | None, int | None]]:
        """Give the last reading of each of these sensors that has one, as :meth:`readings`."""
        return readings.last(self._link, sensors)

    def told_before(self, sensor: str, from_us: int, until_us: int, recorded_us: int) -> bool:
        """Tell whether any reading between two times was recorded before a moment."""
        return readings.told_before(self._link, sensor, from_us, until_us, recorded_us)

    def recorded_at(self, events: Sequence[str]) -> dict[str, int]:
        """Give when each of these events, or the correction it was told in, was recorded."""
        return readings.recorded_at(self._link, events)

    def air_hours(self, room: str, *spans: tuple[int, int]) -> list[tuple[int, Tally]]:
        """Give a room's hours that are rolled up, in spans from one to before another, in order.

        Hours are whole hours since 1970 UTC. Those that are due may be missing, or not be what
        the readings say now: see :meth:`due_hours`.
        """
        return air.air_hours(self._link, room, spans)

    def air_days(self, room: str, *spans: tuple[int, int]) -> list[tuple[int, Tally]]:
        """Give a room's days that are rolled up; as :meth:`air_hours`, days of 24 such hours.

        A day with an hour that is due may be missing, or not be what the readings say now.
        """
        return air.air_days(self._link, room, spans)

    def due_hours(self, room: str, from_hour: int, until_hour: int) -> list[tuple[int, int]]:
        """Give the ranges of a room's hours that are due, cut to these bounds, in order."""
        return self._due(AIR_DUE, room, from_hour, until_hour)

    def due_doubts(self, sensor: str, from_hour: int, until_hour: int) -> list[tuple[int, int]]:
        """Give the ranges of hours in which a sensor has readings that :meth:`doubts` lacks."""
        return self._due(DOUBTS_DUE, sensor, from_hour, until_hour)

    def _due(self, table: Table, of: str, from_hour: int, until_hour: int) -> list[tuple[int, int]]:
        # Mostly nothing is due, and in a snapshot it stays so: one look is enough.
        if self._without_due is None:
            self._without_due = self._look_for_due()
        if table.name in self._without_due:
            return []
        return due.ranges(self._link, table, of, from_hour, until_hour)

    def _look_for_due(self) -> frozenset[str]:
        """Give the names of tables in which nothing is due, as long as this transaction lasts."""
        return due.empty(self._link)

    def next_due_hours(self, behind: tuple[str, int] | None = None) -> Due | None:
        """Give the first range of a room's hours that is due; of those behind a (room, hour)."""
        return due.nearest(self._link, AIR_DUE, behind)

    def next_due_doubts(self, behind: tuple[str, int] | None = None) -> Due | None:
        """Give the first range of a sensor's hours that is due; as :meth:`next_due_hours`."""
        return due.nearest(self._link, DOUBTS_DUE, behind)

    def due_left(self) -> int:
        """Give how many hours are due, of all rooms and all sensors together."""
        return due.left(self._link)

    def doubts(self, sensors: Sequence[str], from_us: int, until_us: int) -> list[DoubtRow]:
        """Give the doubts about these sensors that touch a time, in order of time."""
        return air.doubts(self._link, sensors, from_us, until_us)

    # --- conditions ---------------------------------------------------------------------------

    def ancestry(self, code: str) -> Ancestry | None:
        """Give a lot with all it was made of, up to makes; None if it was never mentioned."""
        return conditions.ancestry(self._link, code)

    def stays(self, ids: Sequence[int]) -> list[StayRow]:
        """Give the stays of these lots, by lot and in order of time."""
        return conditions.stays(self._link, ids)

    def deeds(self, ids: Sequence[int], kinds: Sequence[EntryKind]) -> list[DeedRow]:
        """Give the entries in force of these kinds of these lots, in order of time."""
        return conditions.deeds(self._link, ids, kinds)

    def bodies_at(self, seqs: Sequence[int]) -> dict[int, bytes]:
        """Give the bodies of the events with these ``seq``; of a correction, the whole of it."""
        return conditions.bodies_at(self._link, seqs)

    # --- many wheels --------------------------------------------------------------------------

    def newest_wheels(self, which: WheelFilter, limit: int) -> list[WheelRow]:
        """Give the wheels hooped last, newest first."""
        return wheels.newest_wheels(self._link, which, limit)

    def count_wheels(self, which: WheelFilter) -> int:
        """Count wheels whose hooping is told."""
        return wheels.count_wheels(self._link, which)

    def wheels_of_make(self, make_id: int) -> list[WheelRow]:
        """Give the wheels of a make whose hooping is told, by code."""
        return wheels.wheels_of_make(self._link, make_id)

    def makes_of_wheels(self, ids: Sequence[int]) -> dict[int, str]:
        """Give the code of the make of each of these wheels."""
        return wheels.makes_of_wheels(self._link, ids)

    def marks(
        self, ids: Sequence[int], kinds: Sequence[EntryKind], tasks: Sequence[str] = ()
    ) -> list[MarkRow]:
        """Give the entries of these kinds, and the tendings of these tasks, in order of time."""
        return wheels.marks(self._link, ids, kinds, tasks)

    def turnings(self, ids: Sequence[int]) -> dict[int, int]:
        """Count how often each of these wheels was turned until it was last ironed, if it was."""
        return wheels.turnings(self._link, ids)

    # --- drills -------------------------------------------------------------------------------

    def drill(self, drill_id: str) -> DrillRow | None:
        """Give one drill."""
        return drills.find(self._link, drill_id)

    def drills(self, before: tuple[int, str] | None, limit: int) -> list[DrillRow]:
        """Give drills, newest first, from those before (asked_us, id) on."""
        return drills.newest(self._link, before, limit)
