"""A trace, as the HTTP layer writes it: whole, line by line, or as a table."""

import csv
import io
from collections.abc import Iterator
from itertools import islice
from typing import TypeVar

import msgspec

from rindline_schema.answers import (
    EdgeLine,
    EndLine,
    HeadLine,
    LotLine,
    TraceAnswer,
    TracedEdge,
    TraceDirection,
    TracedLot,
)
from rindline_schema.params import TraceParams
from rindline_server.ledger.apply import Context
from rindline_server.service.problems import no_such_thing
from rindline_server.service.traced import (
    KindCounts,
    Traced,
    TracedNow,
    TracedThen,
    count_kinds,
    lines_in_chunks,
)
from rindline_server.store import ReadTransaction

__all__ = ["TRACE_COLUMNS", "Trace", "open_trace"]

TRACE_COLUMNS = (
    "line",
    "lot",
    "kind",
    "state",
    "steps",
    "product",
    "made_at",
    "made_g",
    "made_count",
    "held",
    "where",
    "holder",
    "room",
    "mass_g",
    "count",
    "parent",
    "child",
)
"""The columns of a trace as CSV: a row for each lot and holder, then one for each edge."""

_LINES_AT_A_TIME = 128
_ENCODER = msgspec.json.Encoder()

_T = TypeVar("_T")


def _in_parts(items: Iterator[_T]) -> Iterator[list[_T]]:
    """Give some at a time: to encode many lines in one call takes a third less."""
    while part := list(islice(items, _LINES_AT_A_TIME)):
        yield part


class Trace:
    """One trace over one snapshot, which it closes when it was written out or dropped."""

    def __init__(
        self, snap: ReadTransaction, lot: str, direction: TraceDirection, traced: Traced, seq: int
    ) -> None:
        """Take the snapshot, what was asked, what was found, and the seq that holds for it."""
        self._snap = snap
        self._lot = lot
        self._direction = direction
        self._traced = traced
        self.as_of = seq

    def close(self) -> None:
        """Close the snapshot; safe to call twice."""
        self._snap.close()

    def answer(self) -> TraceAnswer:
        """Give the whole trace."""
        try:
            lots = list(self._traced.lots(TracedLot))
            return TraceAnswer(
                lot=self._lot,
                direction=self._direction,
                as_of=self.as_of,
                counts=count_kinds((lot.kind, lot.state, lot.made_g) for lot in lots),
                lots=lots,
                edges=[
                    TracedEdge(parent=parent, child=child, mass_g=mass_g)
                    for parent, child, mass_g in self._traced.edges()
                ],
            )
        finally:
            self.close()

    def ndjson(self) -> Iterator[bytes]:
        """Give the trace as lines of JSON in chunks: head, lots, edges, end."""
        return self._closing(lines_in_chunks(self._json_lines()))

    def csv(self) -> Iterator[bytes]:
        """Give the trace as CSV in chunks; the last row says how many lots and edges there are."""
        return self._closing(lines_in_chunks(self._csv_lines()))

    def _closing(self, chunks: Iterator[bytes]) -> Iterator[bytes]:
        try:
            yield from chunks
        finally:
            self.close()

    def _json_lines(self) -> Iterator[bytes]:
        lines = _ENCODER.encode_lines
        yield lines([HeadLine(lot=self._lot, direction=self._direction, as_of=self.as_of)])
        counts = KindCounts()
        for lots in _in_parts(self._traced.lots(LotLine)):
            for lot in lots:
                counts.add(lot.kind, lot.state, lot.made_g)
            yield lines(lots)
        edges = 0
        for part in _in_parts(self._traced.edges()):
            edges += len(part)
            yield lines([EdgeLine(parent=p, child=c, mass_g=mass_g) for p, c, mass_g in part])
        yield lines([EndLine(lots=counts.lots, edges=edges, counts=counts.counts())])

    def _csv_lines(self) -> Iterator[bytes]:
        buffer = io.StringIO()
        table = csv.DictWriter(buffer, TRACE_COLUMNS, restval="")

        def taken() -> bytes:
            text = buffer.getvalue()
            buffer.seek(0)
            buffer.truncate()
            return text.encode()

        table.writeheader()
        lots = edges = 0
        for lot in self._traced.lots(TracedLot):
            lots += 1
            row = {"line": "lot", **msgspec.structs.asdict(lot)}
            row["made_at"] = lot.made_at.isoformat() if lot.made_at else ""
            for holder in row.pop("holders") or (None,):
                held_by = msgspec.structs.asdict(holder) if holder is not None else {}
                table.writerow({**row, **held_by})
            yield taken()
        for parent, child, mass_g in self._traced.edges():
            edges += 1
            table.writerow({"line": "edge", "parent": parent, "child": child, "mass_g": mass_g})
            yield taken()
        table.writerow({"line": "end", "lot": lots, "parent": edges, "count": self.as_of})
        yield taken()


def open_trace(
    snap: ReadTransaction,
    lot: str,
    direction: TraceDirection,
    params: TraceParams,
    context: Context,
) -> Trace:
    """Trace a lot; the trace closes the snapshot. Raises ProblemError if there is no such lot."""
    lot_id = snap.lot_ids([lot]).get(lot)
    if lot_id is None:
        raise no_such_thing(f"lot {lot}")
    if params.as_of is None or params.as_of >= snap.as_of:
        return Trace(snap, lot, direction, TracedNow(snap, lot_id, direction), snap.as_of)
    if lot not in snap.entries_as_of([lot_id], params.as_of):
        raise no_such_thing(f"lot {lot} at seq {params.as_of}")
    then = TracedThen(snap, lot_id, direction, params.as_of, context)
    return Trace(snap, lot, direction, then, params.as_of)
