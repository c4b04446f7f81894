"""The record as it stood: what is asked for an earlier seq is what was answered then."""

from contextlib import suppress
from typing import Any

import msgspec
import pytest
from msgspec import structs

from rindline_schema.answers import LotAnswer, TraceAnswer, TraceDirection
from rindline_schema.params import AsOfParams, TraceParams
from rindline_server.service import ProblemError, Service
from tests.service.callers import MANAGER, recorded
from tests.service.dairy import Dairy
from tests.service.story import Story

_WAYS: tuple[TraceDirection, ...] = ("back", "forward")


def _lots(service: Service, lots: list[str], seq: int | None = None) -> dict[str, LotAnswer]:
    answers = {}
    for lot in lots:
        with suppress(ProblemError):
            answers[lot] = service.lot(MANAGER, lot, AsOfParams(as_of=seq))
    return answers


def _plain(answer: TraceAnswer) -> dict[str, Any]:
    """A trace whose lots and edges are in an order that depends on nothing but their codes."""
    plain: dict[str, Any] = msgspec.to_builtins(answer)
    plain["lots"].sort(key=lambda lot: lot["lot"])
    plain["edges"].sort(key=lambda edge: (edge["parent"], edge["child"]))
    return plain


def _traces(service: Service, lots: list[str], seq: int | None = None) -> dict[Any, Any]:
    answers = {}
    for lot in lots:
        for way in _WAYS:
            with suppress(ProblemError):
                trace = service.trace(MANAGER, lot, way, TraceParams(as_of=seq))
                answers[lot, way] = _plain(trace.answer())
    return answers


def test_lots_and_traces_as_they_stood(service: Service) -> None:
    """After each part of a story every lot and trace is kept; later, as of then, all are equal.

    The story has cuts, a blend, shipping, a hold that spreads, a release and a correction.
    """
    story = Story.of(Dairy())
    kept = []
    for part in story.parts:
        seq = recorded(service, part)[-1].seq
        kept.append((seq, _lots(service, story.lots), _traces(service, story.lots)))
    assert len(kept[-1][1]) == len(story.lots)
    for seq, lots, traces in kept:
        assert _lots(service, story.lots, seq) == lots
        assert _traces(service, story.lots, seq) == traces
    changes = {
        lot: {str(structs.replace(lots[lot], as_of=0)) for _, lots, _ in kept if lot in lots}
        for lot in story.lots
    }
    assert sum(len(found) > 1 for found in changes.values()) > 12, "too little happened"


def test_a_seq_still_to_come_is_now(service: Service) -> None:
    """Asked for a seq the ledger has not reached, the answer is of now and says so."""
    story = Story.of(Dairy())
    last = recorded(service, story.events)[-1].seq
    answer = service.lot(MANAGER, story.make_1, AsOfParams(as_of=last + 1_000))
    assert answer == service.lot(MANAGER, story.make_1, AsOfParams())
    assert answer.as_of == last
    trace = service.trace(MANAGER, story.make_1, "back", TraceParams(as_of=last + 1_000)).answer()
    assert trace.as_of == last


def test_a_lot_is_not_there_before_it_was_mentioned(service: Service) -> None:
    """One event before the first that names it, a lot answers as one nobody ever mentioned."""
    story = Story.of(Dairy())
    told = recorded(service, story.events)
    seq_of = {answer.id: answer.seq for answer in told}
    make = story.parts[1][2]
    before = seq_of[make.id] - 1
    with pytest.raises(ProblemError) as error:
        service.lot(MANAGER, story.make_1, AsOfParams(as_of=before))
    assert error.value.problem.code == "not_found"
    with pytest.raises(ProblemError):
        service.trace(MANAGER, story.make_1, "back", TraceParams(as_of=before))
    assert service.lot(MANAGER, story.make_1, AsOfParams(as_of=before + 1)).as_of == before + 1
