"""Traces: one record however it is written, and from one moment however long that takes."""

import csv
import io
from collections.abc import Iterator
from typing import Any, cast

import msgspec
import pytest

from rindline_schema.answers import TraceAnswer, TraceDirection, TracedLot, TraceLine
from rindline_schema.events import Event
from rindline_schema.params import TraceParams
from rindline_server.service import TRACE_COLUMNS, ProblemError, Service, Trace
from tests.service.callers import MANAGER, recorded
from tests.service.dairy import Dairy
from tests.service.story import Story

_WAYS: tuple[TraceDirection, ...] = ("back", "forward")
_PARAMS = TraceParams()
_LINE = msgspec.json.Decoder(TraceLine)


def _whole(service: Service, lot: str, way: TraceDirection) -> TraceAnswer:
    return service.trace(MANAGER, lot, way, _PARAMS).answer()


def _assembled(lines: Iterator[bytes]) -> dict[str, Any]:
    """Put a trace together again from its lines; asks that head and end stand where they must."""
    text = b"".join(lines)
    assert text.endswith(b"\n")
    head, *middle, end = (msgspec.to_builtins(_LINE.decode(line)) for line in text.splitlines())
    assert head.pop("line") == "head"
    assert end.pop("line") == "end"
    lots = [line for line in middle if line.pop("line") == "lot"]
    edges = middle[len(lots) :]
    assert middle[: len(lots)] == lots, "lots come before edges"
    assert (end["lots"], end["edges"]) == (len(lots), len(edges))
    return {**head, "counts": end["counts"], "lots": lots, "edges": edges}


@pytest.fixture
def story(service: Service) -> Story:
    story = Story.of(Dairy())
    recorded(service, story.events)
    return story


def test_json_and_lines_are_the_same_trace(service: Service, story: Story) -> None:
    """The lines put together give the JSON answer; the end line counts lots and edges."""
    for lot in story.lots:
        for way in _WAYS:
            trace = service.trace(MANAGER, lot, way, _PARAMS)
            assert _assembled(trace.ndjson()) == msgspec.to_builtins(_whole(service, lot, way))


def test_csv_is_the_same_trace(service: Service, story: Story) -> None:
    """The table has every lot with each of its holders, every edge, and the end with its counts."""
    for way in _WAYS:
        answer = _whole(service, story.make_1, way)
        text = b"".join(service.trace(MANAGER, story.make_1, way, _PARAMS).csv()).decode()
        rows = list(csv.DictReader(io.StringIO(text)))
        assert tuple(rows[0]) == TRACE_COLUMNS
        end = rows.pop()
        assert end["line"] == "end"
        assert [int(end["lot"]), int(end["parent"]), int(end["count"])] == [
            *(len(answer.lots), len(answer.edges), answer.as_of),
        ]
        edges = [row for row in rows if row["line"] == "edge"]
        assert [(e["parent"], e["child"], int(e["mass_g"])) for e in edges] == [
            (e.parent, e.child, e.mass_g) for e in answer.edges
        ]
        held = [
            (row["lot"], row["where"], row["holder"], row["room"], row["mass_g"], row["count"])
            for row in rows
            if row["line"] == "lot"
        ]
        assert held == [fields for lot in answer.lots for fields in _held(lot)]
        assert {row["lot"]: int(row["made_g"]) for row in rows if row["line"] == "lot"} == {
            lot.lot: lot.made_g for lot in answer.lots
        }


def _held(lot: TracedLot) -> list[tuple[str, ...]]:
    """What the table must say of who holds a lot: a row for each holder, or one without."""
    rows: list[tuple[str, ...]] = [
        (lot.lot, h.where, h.holder, h.room or "", str(h.mass_g), str(h.count)) for h in lot.holders
    ]
    return rows or [(lot.lot, "", "", "", "", "")]


def test_what_a_trace_reaches(service: Service, story: Story) -> None:
    """Forward from one milk: all but the other milk; back from the crumble: both of each."""
    forward = _whole(service, story.milk_a, "forward")
    untold = {story.untold_wheel, *(_children(service, story.untold_wheel))}
    voided = {lot for lot in story.portions if _is_missing(service, lot)}
    assert {lot.lot for lot in forward.lots} == set(story.lots) - {story.milk_b} - untold - voided
    back = _whole(service, story.crumble, "back")
    assert {lot.lot: lot.steps for lot in back.lots} == {
        story.crumble: 0,
        **dict.fromkeys((lot.lot for lot in back.lots if lot.kind == "trim"), 1),
        **dict.fromkeys((story.wheels[0], story.wheels[3]), 2),
        **dict.fromkeys((story.make_1, story.make_2), 3),
        **dict.fromkeys((story.milk_a, story.milk_b), 4),
    }
    assert {(edge.parent, edge.mass_g) for edge in back.edges if edge.child == story.make_1} == {
        (story.milk_a, 40_000),
        (story.milk_b, 60_000),
    }
    assert back.counts[0].kind == "milk"
    assert back.counts[0].lots == 2


def _children(service: Service, lot: str) -> set[str]:
    return {edge.child for edge in _whole(service, lot, "forward").edges}


def _is_missing(service: Service, lot: str) -> bool:
    """A lot that only a voided event made has no edges any more."""
    return not _whole(service, lot, "back").edges


def test_what_is_held_is_marked(service: Service, story: Story) -> None:
    """A hold on the milk spreads to all made of it, but not past a lot it was lifted for."""
    held = {lot.lot: lot.held for lot in _whole(service, story.milk_a, "forward").lots}
    assert held[story.milk_a]
    assert held[story.make_1]
    assert held[story.wheels[1]]
    assert not held[story.wheels[0]]
    # Crumble has trim of a released wheel and of one that is still held.
    assert held[story.crumble]


@pytest.mark.parametrize("form", ["json", "ndjson", "csv"])
def test_a_trace_is_one_moment(service: Service, form: str) -> None:
    """What is told after a trace was opened, even half-way through it, does not show in it."""
    dairy = Dairy()
    events, wheels = dairy.wheels(1_200, 1_000)
    recorded(service, dairy.declared())
    recorded(service, events)
    milk = events[0]
    opened, before = (
        service.trace(MANAGER, _lot_of(milk), "forward", _PARAMS),
        service.trace(MANAGER, _lot_of(milk), "forward", _PARAMS),
    )
    seq = service.head()[0]
    if form == "json":
        expected: Any = before.answer()
        recorded(service, [dairy.cut(wheels[0], dairy.piece(500))])
        assert opened.answer() == expected
    else:
        expected = b"".join(before.ndjson() if form == "ndjson" else before.csv())
        chunks = opened.ndjson() if form == "ndjson" else opened.csv()
        first = next(chunks)
        assert len(first) < len(expected), "one chunk held it all, so nothing was shown"
        recorded(service, [dairy.cut(wheels[0], dairy.piece(500))])
        assert first + b"".join(chunks) == expected
    assert opened.as_of == seq
    after = service.trace(MANAGER, _lot_of(milk), "forward", _PARAMS).answer()
    assert after.as_of == seq + 1
    assert len(after.lots) == 2 + 1_200 + 1


def _lot_of(event: Event) -> str:
    lot = getattr(event, "lot", None)
    assert isinstance(lot, str)
    return lot


def test_traces_give_their_connections_back(service: Service, story: Story) -> None:
    """Read out, broken off, never begun or not found: none of them keeps a connection.

    All are kept until the end, so that no connection comes back merely because its trace is gone.
    """
    kept: list[Any] = []

    def opened() -> Trace:
        kept.append(service.trace(MANAGER, story.make_1, "forward", _PARAMS))
        return cast("Trace", kept[-1])

    for _ in range(10):
        opened().answer()
        kept.extend(opened().ndjson())
        begun = opened()
        kept.append(begun.csv())
        next(kept[-1])
        begun.close()
        opened().close()
        with pytest.raises(ProblemError):
            service.trace(MANAGER, Dairy(3).code("trim", "QR"), "back", _PARAMS)
    assert len(kept) > 50
    assert _whole(service, story.make_1, "forward").lots
