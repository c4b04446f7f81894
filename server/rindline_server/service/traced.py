"""Lots and edges reached by a trace, as the record stands now or stood at an earlier seq.

Much is asked of each line and there may be many: so lots are made as they are taken, straight
into the type that is written.
"""

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Protocol, TypeVar

from rindline_schema.answers import Holder, KindCount, TraceDirection, TracedLot
from rindline_schema.codes import kind_of_code
from rindline_schema.registers import LotKind
from rindline_server.ledger.apply import Context
from rindline_server.ledger.times import from_us
from rindline_server.service.earlier import earlier
from rindline_server.store import HOLDER_SORTS, LOT_KINDS, LOT_STATES, ReadTransaction

__all__ = ["KindCounts", "Traced", "TracedNow", "TracedThen", "count_kinds", "lines_in_chunks"]

_Lot = TypeVar("_Lot", bound=TracedLot)

_FIRST_CHUNK_BYTES = 64 * 1024
_CHUNK_BYTES = 256 * 1024

_KINDS: dict[str, LotKind] = {kind: kind for kind in LOT_KINDS}


class Traced(Protocol):
    """What a trace found."""

    def lots(self, made: type[_Lot]) -> Iterator[_Lot]:
        """Give the lots, in order of their steps; ``made`` is the kind of line they become."""

    def edges(self) -> Iterator[tuple[str, str, int]]:
        """Give the edges as (parent, child, grams); take all the lots first."""


class TracedNow:
    """A trace in the record as it stands."""

    def __init__(self, snap: ReadTransaction, lot_id: int, direction: TraceDirection) -> None:
        self._snap = snap
        self._reached = snap.reach([lot_id], direction)
        self._held_by_kin = snap.held_by_kin(list(self._reached.steps))
        self._codes: dict[int, str] = {}

    def lots(self, made: type[_Lot]) -> Iterator[_Lot]:
        """See :class:`Traced`."""
        codes, steps, held_by_kin = self._codes, self._reached.steps, self._held_by_kin
        lot: _Lot | None = None
        holders: list[Holder] = []
        last_id = 0
        # Lots of one event were made at one moment, and to make a date takes long.
        moments: dict[int | None, datetime | None] = {None: None}
        for row in self._snap.traced_lots(steps):
            lot_id, code, kind, state, held, product, born_us, made_g, made_count = row[:9]
            if lot_id != last_id:
                if lot is not None:
                    yield lot
                last_id, holders = lot_id, []
                codes[lot_id] = code
                if born_us is not None and born_us not in moments:
                    moments[born_us] = from_us(born_us)
                lot = made(
                    lot=code,
                    kind=LOT_KINDS[kind],
                    state=LOT_STATES[state],
                    steps=steps[lot_id],
                    product=product,
                    made_at=moments[born_us],
                    made_g=made_g,
                    made_count=made_count,
                    held=held > 0 or lot_id in held_by_kin,
                    holders=holders,
                )
            sort, holder, room, _, mass_g, count = row[9:]
            if sort is not None:
                where = HOLDER_SORTS[sort]
                holders.append(
                    Holder(
                        where=where,
                        holder=holder or "",
                        room=room,
                        mass_g=mass_g or 0,
                        count=count or 0,
                    )
                )
        if lot is not None:
            yield lot

    def edges(self) -> Iterator[tuple[str, str, int]]:
        """See :class:`Traced`."""
        codes, grams = self._codes, self._reached.grams
        return ((codes[parent], codes[child], g) for (parent, child), g in grams.items())


class TracedThen:
    """A trace in the record as it stood at an earlier ``seq``, its lots folded again."""

    def __init__(
        self,
        snap: ReadTransaction,
        lot_id: int,
        direction: TraceDirection,
        seq: int,
        context: Context,
    ) -> None:
        self._reached = snap.reach_as_of([lot_id], direction, seq)
        self._codes = snap.lot_codes(list(self._reached.steps))
        self._then = earlier(snap, list(self._reached.steps), seq, context)

    def lots(self, made: type[_Lot]) -> Iterator[_Lot]:
        """See :class:`Traced`."""
        for lot_id, steps in self._reached.steps.items():
            code = self._codes[lot_id]
            record = self._then.record(code)
            yield made(
                lot=code,
                kind=_KINDS[kind_of_code(code)],
                state=record.state,
                steps=steps,
                product=record.product,
                made_at=from_us(record.born_us) if record.born_us is not None else None,
                made_g=record.made_g,
                made_count=record.made_count,
                held=record.hold_flag > 0 or bool(self._then.holds(code)),
                holders=[
                    Holder(
                        where=h.where, holder=h.holder, room=h.room, mass_g=h.mass_g, count=h.count
                    )
                    for h in record.holdings
                ],
            )

    def edges(self) -> Iterator[tuple[str, str, int]]:
        """See :class:`Traced`."""
        codes, grams = self._codes, self._reached.grams
        return ((codes[parent], codes[child], g) for (parent, child), g in grams.items())


class KindCounts:
    """Counts lots by kind as they go by."""

    def __init__(self) -> None:
        self._counts: dict[LotKind, list[int]] = {kind: [0, 0, 0] for kind in LOT_KINDS}
        self.lots = 0

    def add(self, kind: LotKind, state: str, made_g: int) -> None:
        """Count one lot."""
        count = self._counts[kind]
        count[0] += 1
        count[1] += state == "pending"
        count[2] += made_g
        self.lots += 1

    def counts(self) -> list[KindCount]:
        """Give the counts, in the order milk goes through the dairy."""
        return [
            KindCount(kind=kind, lots=lots, pending=pending, made_g=made_g)
            for kind, (lots, pending, made_g) in self._counts.items()
            if lots
        ]


def count_kinds(lots: Iterable[tuple[LotKind, str, int]]) -> list[KindCount]:
    """Count lots given as (kind, state, made_g)."""
    counts = KindCounts()
    for lot in lots:
        counts.add(*lot)
    return counts.counts()


def lines_in_chunks(lines: Iterable[bytes]) -> Iterator[bytes]:
    """Put lines together into chunks, each line whole: of 64 KiB at first, later of 256 KiB.

    So the first lines are soon there, and many are sent in few turns.
    """
    chunk: list[bytes] = []
    held, full = 0, _FIRST_CHUNK_BYTES
    for line in lines:
        chunk.append(line)
        held += len(line)
        if held >= full:
            yield b"".join(chunk)
            chunk, held, full = [], 0, _CHUNK_BYTES
    if chunk:
        yield b"".join(chunk)
