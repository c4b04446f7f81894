"""Writing: one transaction at a time, under the lock of the head row."""

from collections.abc import Mapping, Sequence
from typing import Any

from rindline_schema.events import Event
from rindline_server.calc.air import Tally
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.world import NotLoadedError, World
from rindline_server.store import air, due, readings, stations, tables
from rindline_server.store.air import DoubtRow
from rindline_server.store.chain import row_hash
from rindline_server.store.changes import Changes
from rindline_server.store.due import Due
from rindline_server.store.ids import id_bytes
from rindline_server.store.link import Link
from rindline_server.store.loading import LotHeader
from rindline_server.store.reading import ReadTransaction
from rindline_server.store.readings import ReadingRow, ToldReadings
from rindline_server.store.rebuilding import Digest, clear, digests
from rindline_server.store.record_rows import NO_BIRTH, PARTS, Birth, PartChanges, lot_row
from rindline_server.store.register_rows import RegisterShelf
from rindline_server.store.rows import LedgerRow
from rindline_server.store.stations import CodeBlockRow, OutboxRow

__all__ = ["DerivedMismatchError", "WriteTransaction"]


class DerivedMismatchError(Exception):
    """A derived table lacks what the ledger says was there: ``rebuild`` puts it right."""


class WriteTransaction(ReadTransaction):
    """The writer's transaction: it can read all that a reader can (``head`` moves as it appends).

    Nothing is on disk before it commits.
    """

    def __init__(self, link: Link, shelf: RegisterShelf) -> None:
        """Take a connection whose transaction has begun, and wait for the head's lock."""
        super().__init__(link, shelf, locked=True)
        self._headers: dict[str, LotHeader] = {}
        self._new_ids: dict[str, int] = {}
        self._first_head = self._pointers
        self._is_cancelled = False
        self._has_marked = False

    def load(self, events: Sequence[Event], tolerance: ScaleTolerance) -> World:
        """Load as a reader does, and remember which lots have rows."""
        loaded = self._load(events, tolerance)
        self._headers.update(loaded.headers)
        return loaded.world

    def append(self, rows: Sequence[LedgerRow]) -> None:
        """Add rows to the ledger; their ``seq`` go on from the head."""
        seq, previous = self.head
        made: list[tuple[Any, ...]] = []
        for row in rows:
            seq += 1
            if row.seq != seq:
                raise ValueError(f"seq {row.seq} does not follow {seq - 1}")
            columns = (
                row.seq,
                id_bytes(row.id),
                id_bytes(row.replacement_id) if row.replacement_id is not None else None,
                row.station.encode(),
                row.recorded_us,
                row.told_hash,
                row.body,
                row.answer,
            )
            previous = row_hash(previous, columns)
            made.append((*columns[:3], row.station, *columns[4:], previous))
        self._link.insert(tables.LEDGER, made)
        self._pointers = self._pointers._replace(seq=seq, hash=previous)

    def put_outbox(self, row: OutboxRow) -> None:
        """Keep an outbox's row, new or changed."""
        stations.put_outbox(self._link, row)

    def put_code_block(self, row: CodeBlockRow) -> None:
        """Keep a block's row, new or changed."""
        stations.put_code_block(self._link, row)

    # --- air ----------------------------------------------------------------------------------

    def tell_readings(self, rows: Sequence[ReadingRow]) -> ToldReadings:
        """Keep the readings that are new; no two of the rows may be of one sensor and time."""
        return readings.tell(self._link, rows)

    @property
    def has_marked(self) -> bool:
        """Whether any hour was marked as due."""
        return self._has_marked

    def mark_due(self, room: str, ranges: Sequence[tuple[int, int]]) -> None:
        """Have ranges of a room's hours, each from one to before another, rolled up anew."""
        self._has_marked = self._has_marked or bool(ranges)
        due.mark(self._link, tables.AIR_DUE, room, ranges)

    def mark_doubts_due(self, sensor: str, ranges: Sequence[tuple[int, int]]) -> None:
        """Have doubts found anew of the readings in ranges of hours."""
        self._has_marked = self._has_marked or bool(ranges)
        due.mark(self._link, tables.DOUBTS_DUE, sensor, ranges)

    def _look_for_due(self) -> frozenset[str]:
        # Whatever is not due yet may become so here.
        return frozenset()

    def take_due(self, hours: Due) -> None:
        """Say that these hours of a room are rolled up and no longer due."""
        due.take(self._link, tables.AIR_DUE, hours)

    def take_doubts_due(self, hours: Due) -> None:
        """Say that the doubts of these hours of a sensor were found and are no longer due."""
        due.take(self._link, tables.DOUBTS_DUE, hours)

    def put_air_hours(
        self, room: str, from_hour: int, until_hour: int, hours: Sequence[tuple[int, Tally]]
    ) -> None:
        """Put these hours in place of all the room has from one hour to before another."""
        air.put_air_hours(self._link, room, from_hour, until_hour, hours)

    def put_air_days(
        self, room: str, from_day: int, until_day: int, days: Sequence[tuple[int, Tally]]
    ) -> None:
        """Put these days in place of all the room has from one day to before another."""
        air.put_air_days(self._link, room, from_day, until_day, days)

    def put_doubts(
        self, sensor: str, from_us: int, until_us: int, rows: Sequence[DoubtRow]
    ) -> None:
        """Put these doubts in place of all about the sensor that touch a time.

        The time must be wide enough that ``rows`` holds every doubt that touches it.
        """
        air.put_doubts(self._link, sensor, from_us, until_us, rows)

    def clear_air(self) -> None:
        """Remove hours, days and doubts: from here on all readings are rolled up again."""
        air.clear(self._link)

    # --- folding the ledger again -------------------------------------------------------------

    def digests(self) -> dict[str, Digest]:
        """Give a digest of each derived table, and of what the head row derives."""
        figure = self._pointers.next_lot_id << 64 | self._pointers.register_seq
        return {**digests(self._link), tables.HEAD.name: Digest(1, figure)}

    def clear_derived(self) -> None:
        """Empty the derived tables: from here on the events of the ledger are written again.

        Until one is written, ``load`` takes it for not yet told.
        """
        clear(self._link)
        self._pointers = self._pointers._replace(next_lot_id=1, register_seq=0)
        self._folded_to = 0
        self._headers.clear()
        # What is read of the registers meanwhile is nobody else's.
        self._shelf = RegisterShelf()

    # --- what follows from events -------------------------------------------------------------

    def write(self, world: World, seq_of: Mapping[str, int]) -> None:
        """Write all that follows from the world's steps; ``seq_of`` gives each step's ``seq``."""
        for code in world.touched:
            self._lot_id(code)
        changes = Changes(world, seq_of, self._lot_id)
        link = self._link
        # First of all: if these do not stand as the ledger says, nothing else can.
        for table, key, voids in (
            (tables.ENTRIES, ("lot_id", "event", "line"), changes.entries.voids),
            (tables.EDGES, ("child_id", "parent_id", "line"), changes.edges.voids),
            (tables.VERSIONS, ("register", "code", "event"), changes.versions.voids),
            (tables.FINDINGS, ("discrepancy", "event"), changes.findings.voids),
        ):
            if link.void(table, key, voids) != len(voids):
                raise DerivedMismatchError(f"{table.name} lacks rows that should be in force")
        self._write_lots(world, changes.births)
        link.insert(tables.ENTRIES, changes.entries.rows)
        link.insert(tables.EDGES, changes.edges.rows)
        link.insert(tables.VERSIONS, changes.versions.rows)
        link.insert(tables.FINDINGS, changes.findings.rows)
        link.insert(tables.VOIDS, changes.voids)
        link.insert(tables.LINKS, list(changes.links.values()))
        # A prefix that was not loaded may have gone further than what was seen here.
        link.put_larger(tables.SERIALS, sorted(world.new_serials.items()))
        if changes.register_seq is not None:
            self._pointers = self._pointers._replace(register_seq=changes.register_seq)
        self._new_ids.clear()
        if world.steps:
            self._folded_to = seq_of[world.steps[-1].event]

    def _lot_id(self, code: str) -> int:
        """Give a lot's number; a lot never mentioned before gets the next one."""
        header = self._headers.get(code)
        if header is not None:
            return header.id
        number = self._new_ids.get(code)
        if number is None:
            number = self._pointers.next_lot_id
            self._new_ids[code] = number
            self._pointers = self._pointers._replace(next_lot_id=number + 1)
        return number

    def _write_lots(self, world: World, births: Mapping[str, Birth]) -> None:
        new: list[tuple[Any, ...]] = []
        changed: list[tuple[Any, ...]] = []
        parts = [PartChanges(part) for part in PARTS]
        for code, before in world.touched.items():
            lot_id, after = self._lot_id(code), world.books[code].record
            header = self._headers.get(code)
            if header is not None and after is before and code not in births:
                continue
            if not world.books[code].is_whole:
                raise NotLoadedError(code)
            birth = births.get(code, header.birth if header is not None else NO_BIRTH)
            row = lot_row(lot_id, code, after, birth)
            if header is None:
                new.append(row)
                self._headers[code] = LotHeader(lot_id, code, row[6], row[4], row[8], birth)
            else:
                changed.append(row)
                self._headers[code] = header._replace(birth=birth)
            for part in parts:
                part.add(lot_id, code, before, after)
        self._link.insert(tables.LOTS, new)
        self._link.put(tables.LOTS, changed)
        for part in parts:
            self._link.delete(part.part.table, part.part.key, part.gone)
            self._link.put(part.part.table, part.changed)
            self._link.insert(part.part.table, part.new)

    def cancel(self) -> None:
        """Have nothing of this transaction kept when it ends."""
        self._is_cancelled = True

    def finish(self) -> None:
        """Commit, unless cancelled; gives the connection back."""
        try:
            if not self._is_cancelled:
                if self._pointers != self._first_head:
                    self._link.run(
                        "UPDATE head SET seq = ?, hash = ?, next_lot_id = ?, register_seq = ? "
                        "WHERE id = 1",
                        self._pointers,
                    )
                self._link.commit()
        finally:
            self.close()
