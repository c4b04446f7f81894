"""Lots and edges reached by a trace, as the record stands now or stood at an earlier seq."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Any, NamedTuple

from rindline_schema.answers import Holder, KindCount, TraceDirection
from rindline_schema.codes import kind_of_code
from rindline_schema.registers import LotKind
from rindline_server.ledger.apply import Context
from rindline_server.ledger.times import from_us
from rindline_server.service.earlier import earlier
from rindline_server.store import HOLDER_SORTS, LOT_KINDS, LOT_STATES, ReadTransaction, TraceRow

__all__ = ["Reached", "count_kinds", "lines_in_chunks", "reach_now", "reach_then"]


class Reached(NamedTuple):
    """What a trace found: members of ``TracedLot`` for each lot, and its edges by code."""

    lots: list[dict[str, Any]]
    edges: Iterable[tuple[str, str, int]]


def _fields(rows: Sequence[TraceRow], held: set[int]) -> dict[str, Any]:
    first = rows[0]
    return {
        "lot": first.code,
        "kind": LOT_KINDS[first.kind],
        "state": LOT_STATES[first.state],
        "steps": first.steps,
        "product": first.product,
        "made_at": from_us(first.born_us) if first.born_us is not None else None,
        "made_g": first.made_g,
        "made_count": first.made_count,
        "held": first.held > 0 or first.id in held,
        "holders": [
            Holder(
                where=HOLDER_SORTS[row.sort],
                holder=row.holder or "",
                room=row.room,
                mass_g=row.mass_g or 0,
                count=row.count or 0,
            )
            for row in rows
            if row.sort is not None
        ],
    }


def reach_now(snap: ReadTransaction, lot_id: int, direction: TraceDirection) -> Reached:
    """Trace a lot in the record as it stands."""
    rows = list(snap.trace([lot_id], direction))
    codes = {row.id: row.code for row in rows}
    held = snap.held_among(list(codes))
    lots = [_fields(list(group), held) for _, group in groupby(rows, itemgetter(0))]
    edges = (
        (codes[edge.parent_id], codes[edge.child_id], edge.mass_g)
        for edge in snap.trace_edges([lot_id], direction)
    )
    return Reached(lots, edges)


def reach_then(
    snap: ReadTransaction, lot_id: int, direction: TraceDirection, seq: int, context: Context
) -> Reached:
    """Trace a lot in the record as it stood at an earlier ``seq``, folding its lots again."""
    steps, edges = snap.reach_as_of([lot_id], direction, seq)
    codes = snap.lot_codes(list(steps))
    then = earlier(snap, list(steps), seq, context)
    lots = []
    for reached_id, distance in sorted(steps.items(), key=lambda item: (item[1], item[0])):
        code = codes[reached_id]
        record = then.record(code)
        lots.append(
            {
                "lot": code,
                "kind": kind_of_code(code),
                "state": record.state,
                "steps": distance,
                "product": record.product,
                "made_at": from_us(record.born_us) if record.born_us is not None else None,
                "made_g": record.made_g,
                "made_count": record.made_count,
                "held": record.hold_flag > 0 or bool(then.holds(code)),
                "holders": [
                    Holder(
                        where=h.where, holder=h.holder, room=h.room, mass_g=h.mass_g, count=h.count
                    )
                    for h in record.holdings
                ],
            }
        )
    return Reached(lots, ((codes[e.parent_id], codes[e.child_id], e.mass_g) for e in edges))


def count_kinds(lots: Iterable[tuple[LotKind, str, int]]) -> list[KindCount]:
    """Count lots given as (kind, state, made_g), in the order milk goes through the dairy."""
    counts: dict[LotKind, list[int]] = {kind: [0, 0, 0] for kind in LOT_KINDS}
    for kind, state, made_g in lots:
        count = counts[kind]
        count[0] += 1
        count[1] += state == "pending"
        count[2] += made_g
    return [
        KindCount(kind=kind, lots=lots_n, pending=pending, made_g=made_g)
        for kind, (lots_n, pending, made_g) in counts.items()
        if lots_n
    ]


def lines_in_chunks(lines: Iterator[bytes], size: int = 65_536) -> Iterator[bytes]:
    """Put lines together into chunks of about ``size`` bytes, each line whole."""
    chunk: list[bytes] = []
    held = 0
    for line in lines:
        chunk.append(line)
        held += len(line)
        if held >= size:
            yield b"".join(chunk)
            chunk, held = [], 0
    if chunk:
        yield b"".join(chunk)
