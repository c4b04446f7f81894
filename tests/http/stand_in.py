"""A service without a record, for tests of HTTP itself: its faults can be ordered."""

import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, cast

import msgspec

from rindline_schema.answers import (
    EndLine,
    HeadLine,
    LotPage,
    LotSummary,
    Outcome,
    Refused,
    Told,
    TraceAnswer,
)
from rindline_schema.events import Event
from rindline_schema.problems import make_problem
from rindline_server.http.openapi.event_examples import WHEEL
from rindline_server.service import Caller, ProblemError, Service

__all__ = ["KEYS", "LOT", "StandIn", "as_service"]

LOT = WHEEL
_AT = datetime(2026, 2, 9, 12, 0, tzinfo=UTC)
KEYS = ("station", "manager", "auditor", "customer")


@dataclass
class StandIn:
    """Answers as it is told to. A caller's key is simply the name of its role."""

    told: list[Event | Refused] = field(default_factory=list)
    outcome: Callable[[Event], Outcome] | None = None
    amiss: str | None = None
    raises: Exception | None = None
    seq: int = 7
    asked: int = 0
    lots_answered: int = 1
    pieces: int = 3
    breaks_after: int | None = None
    closed: int = 0
    gate: threading.Event | None = None
    started: bool = False
    waiting: int = 0

    def start(self) -> None:
        self.started = True

    def stop(self, _timeout_s: float) -> None:
        self.started = False

    def who(self, key: str) -> Caller | None:
        return Caller(f"key-{key}", key, cast("Any", key), "QM", "SHOP-7") if key in KEYS else None

    def who_lately(self, key: str) -> Caller | None:
        return self.who(key)

    def ready(self) -> str | None:
        return self.amiss

    def head(self) -> tuple[int, str]:
        return self.seq, f"{self.seq:064x}"

    def tell(
        self, _caller: Caller, told: Sequence[Event | Refused], *, all_or_nothing: bool = False
    ) -> "Future[list[Outcome]]":
        assert all_or_nothing in (True, False)
        if self.raises is not None:
            raise self.raises
        self.told.extend(told)
        future: Future[list[Outcome]] = Future()
        future.set_result([self._outcome(event) for event in told])
        return future

    def try_events(self, _caller: Caller, told: Sequence[Event | Refused]) -> list[Outcome]:
        return [self._outcome(event) for event in told]

    def lots(self, _caller: Caller, _params: Any) -> LotPage:
        self.asked += 1
        if self.gate is not None:
            self.gate.wait(30)
        if self.raises is not None:
            raise self.raises
        lot = LotSummary(lot=LOT, kind="wheel", state="on_hand", site="QM")
        return LotPage(lots=[lot] * self.lots_answered, as_of=self.seq)

    def drills(self, _caller: Caller, _params: Any) -> Any:
        raise self.raises or ProblemError(make_problem("bad_cursor", "Not a cursor of ours."))

    def lot(self, _caller: Caller, _lot: str, _params: Any) -> Any:
        raise ProblemError(make_problem("not_found", "There is no such lot."))

    def register_entry(self, _caller: Caller, _name: str, _code: str) -> Any:
        raise ProblemError(make_problem("not_found", "There is no such entry."))

    def trace(self, _caller: Caller, lot: str, direction: Any, _params: Any) -> "_Trace":
        return _Trace(self, lot, direction)

    def _outcome(self, event: Event | Refused) -> Outcome:
        if isinstance(event, Refused):
            return event
        if self.outcome is not None:
            return self.outcome(event)
        self.seq += 1
        return Told(id=event.id, seq=self.seq, recorded_at=_AT)


class _Trace:
    def __init__(self, service: StandIn, lot: str, direction: Any) -> None:
        self._service = service
        self._lot = lot
        self._direction = direction
        self.as_of = service.seq

    def answer(self) -> TraceAnswer:
        return TraceAnswer(
            lot=self._lot, direction=self._direction, as_of=self.as_of, counts=[], lots=[], edges=[]
        )

    def ndjson(self) -> Iterator[bytes]:
        head = HeadLine(lot=self._lot, direction=self._direction, as_of=self.as_of)
        yield msgspec.json.encode(head) + b"\n"
        for number in range(self._service.pieces):
            if number == self._service.breaks_after:
                raise RuntimeError("broken on purpose")
            # Blank lines would be no JSON: pad a line instead.
            yield msgspec.json.encode(head)[:-1] + b" " * 65_000 + b"}\n"
        yield msgspec.json.encode(EndLine(lots=0, edges=0, counts=[])) + b"\n"

    def csv(self) -> Iterator[bytes]:
        yield b"line,lot\r\n"
        yield b"lot," + self._lot.encode() + b"\r\n"

    def close(self) -> None:
        self._service.closed += 1


def as_service(stand_in: StandIn) -> Service:
    """Give the stand-in the type of what it stands in for."""
    return cast("Service", stand_in)
