"""The fake server: a transport for both clients that answers from memory."""

import threading
from collections import deque
from collections.abc import AsyncIterator, Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import msgspec

from rindline._clock import Clock
from rindline._wire import Request, Response
from rindline.errors import TransportError
from rindline.testing._clock import FakeClock
from rindline.testing._readings import Readings
from rindline.testing._record import Record
from rindline.testing._routes import Asked, Refusal, find_operation, own_answer
from rindline.testing._stations import Stations
from rindline_schema.answers import (
    EdgeLine,
    EndLine,
    HeadLine,
    LotAnswer,
    LotLine,
    Reading,
    RecordedEvent,
    TraceAnswer,
    TraceLine,
)
from rindline_schema.events import Event
from rindline_schema.operations import OPERATIONS
from rindline_schema.problems import Problem, make_problem

__all__ = ["FakeServer"]

_ANSWERS = {operation.name: operation.answer for operation in OPERATIONS}
_FILES = {operation.name: operation.files for operation in OPERATIONS}


@dataclass(frozen=True, slots=True)
class _Step:
    """What happens to one request: lost on the way, answer lost, refused, or cut short."""

    kind: Literal["lost", "answer_lost", "refused", "cut"]
    problem: Problem | None = None
    retry_after_s: int | None = None
    lines: int = 0


class FakeServer:
    """A server in memory, for the tests of those who use the SDK. Safe with threads.

    What it does: remembers told events in order; answers the same event again as a replay;
    refuses an id with other content (``id_reused``), a body that is not an event, an event that is
    wrong by itself (:mod:`rindline_schema.faults`: a mistyped lot code, for one), a lot made
    twice, and an event corrected twice; gives codes to lots without one and blocks of codes to
    stations; keeps readings once by sensor and time, and refuses those that cannot be or tell
    other values (``reading_differs``); answers ``event``, ``feed``, ``lot``, ``lots``,
    ``register``, ``register_entry``, ``stations``, ``code_blocks``, ``sensors``, ``whoami``,
    ``live`` and ``ready``.

    What it does not judge: whether the grams suffice, whether a lot is known, held or lies here,
    whether partners, products or rooms are declared, times, sites, roles. A lot stays as it was
    made, whatever is told of it later, a correction included; there are no discrepancies and
    ``as_of`` is not heeded. So an event it records, a real server may refuse: use ``refuse_when``
    for that. Of readings it does not judge whether the sensor is declared, nor the time, and it
    doubts none. It answers ``origin``, ``trace``, drills, ``climate``, ``conditions``,
    ``weight_loss`` and ``comparison`` only as you say with ``answer``, and draws nothing: see
    ``answer_picture``.

    ``key``, if given, is the only key it takes; ``site`` is where events without a site happen.
    """

    def __init__(
        self, *, site: str = "QM", key: str | None = None, clock: Clock | None = None
    ) -> None:
        clock = clock or FakeClock()
        self._record = Record(site, clock)
        self._stations = Stations(self._record, clock)
        self._readings = Readings(self._record, clock)
        self._key = key
        self._script: deque[_Step] = deque()
        self._answers: dict[str, msgspec.Struct] = {}
        self._pictures: dict[str, bytes] = {}
        self._lock = threading.RLock()
        self.requests: list[Request] = []
        """Every request that arrived, also those whose answer was lost."""

    @property
    def told(self) -> list[RecordedEvent]:
        """What is recorded, in order."""
        return list(self._record.events)

    @property
    def lots(self) -> Mapping[str, LotAnswer]:
        """The lots that were made, by code."""
        return dict(self._record.lots)

    @property
    def readings(self) -> list[Reading]:
        """The readings that are kept, by sensor and time."""
        return [reading for _, reading in sorted(self._readings.kept.items())]

    # --- what shall happen --------------------------------------------------------------------

    def answer(self, operation: str, answer: msgspec.Struct) -> None:
        """Answer an operation (a name in ``rindline_schema.operations``) so from now on."""
        expected = _ANSWERS.get(operation)
        if expected is None or not isinstance(answer, expected):
            raise ValueError(f"{operation!r} is no operation that answers {type(answer).__name__}")
        self._answers[operation] = answer

    def answer_picture(self, operation: str, picture: bytes) -> None:
        """Answer an operation that is asked for a picture (``climate``, ``conditions``) so."""
        if not _FILES.get(operation):
            raise ValueError(f"{operation!r} is no operation that answers pictures")
        self._pictures[operation] = picture

    def lose_next_request(self, times: int = 1) -> None:
        """Let the next requests not arrive: nothing is recorded, the client gets no answer."""
        self._script.extend([_Step("lost")] * times)

    def lose_next_answer(self, times: int = 1) -> None:
        """Let the next requests be carried out, and their answers be lost."""
        self._script.extend([_Step("answer_lost")] * times)

    def refuse_next(
        self, problem: Problem, *, retry_after_s: int | None = None, times: int = 1
    ) -> None:
        """Answer the next requests with a problem, perhaps with a ``Retry-After``.

        Problems are made by :func:`rindline_schema.problems.make_problem`.
        """
        self._script.extend([_Step("refused", problem, retry_after_s)] * times)

    def cut_next_stream(self, *, after_lines: int) -> None:
        """Let the connection fail after so many lines (or chunks) of the next answer."""
        self._script.append(_Step("cut", lines=after_lines))

    def refuse_when(self, rule: Callable[[Event], Problem | None]) -> None:
        """Refuse, from now on, each new event for which ``rule`` gives a problem."""
        self._record.rules.append(rule)

    # --- the transport of Client --------------------------------------------------------------

    def send(self, request: Request, timeout_s: float) -> Response:  # noqa: ARG002 - in no time
        """Answer a request; raises :class:`rindline.TransportError` if the script says so."""
        opened = self._open(request)
        return Response(opened.status, opened.headers, b"".join(opened.parts()))

    def open(self, request: Request, timeout_s: float) -> "_Opened":  # noqa: ARG002 - in no time
        """Answer a request bit by bit."""
        return self._open(request)

    def close(self) -> None:
        """Do nothing: the record can be read after the client is closed."""

    # --- the transport of AsyncClient ---------------------------------------------------------

    async def send_async(self, request: Request, timeout_s: float) -> Response:
        """As :meth:`send`."""
        return self.send(request, timeout_s)

    async def open_async(self, request: Request, timeout_s: float) -> "_AsyncOpened":
        """As :meth:`open`."""
        return _AsyncOpened(self.open(request, timeout_s))

    async def close_async(self) -> None:
        """As :meth:`close`."""

    # --- how it answers -----------------------------------------------------------------------

    def _open(self, request: Request) -> "_Opened":
        with self._lock:
            step = self._script.popleft() if self._script else None
            if step is not None and step.kind == "lost":
                raise TransportError("The fake server did not get the request, as told.")
            self.requests.append(request)
            if step is not None and step.problem is not None:
                return _refusal(step.problem, step.retry_after_s)
            try:
                opened = self._handled(request)
            except Refusal as refusal:
                opened = _refusal(refusal.problem, None)
            if step is not None and step.kind == "answer_lost":
                raise TransportError("The fake server's answer was lost, as told.")
            if step is not None and step.kind == "cut":
                opened.cut_after = step.lines
            return opened

    def _handled(self, request: Request) -> "_Opened":
        if self._key is not None and request.headers.get("authorization") != f"Bearer {self._key}":
            raise Refusal(make_problem("unauthorized", "the fake server has another key"))
        asked = find_operation(request)
        media = _picture_media(asked)
        if media is not None:
            return _Opened(200, {"content-type": media}, [self._picture(asked.operation.name)])
        answer = self._answers.get(asked.operation.name) or own_answer(
            self._record, self._stations, self._readings, asked
        )
        if answer is None:
            raise NotImplementedError(
                f"FakeServer does not work out {asked.operation.name!r}: say what it shall answer "
                f"with answer({asked.operation.name!r}, ...)"
            )
        if isinstance(answer, TraceAnswer) and _wants_lines(asked):
            lines = [msgspec.json.encode(line) + b"\n" for line in _lines_of(answer)]
            return _Opened(200, {"content-type": "application/x-ndjson"}, lines)
        body = msgspec.json.encode(answer)
        return _Opened(asked.operation.status, {"content-type": "application/json"}, [body])

    def _picture(self, operation: str) -> bytes:
        if operation not in self._pictures:
            raise NotImplementedError(
                f"FakeServer does not draw {operation!r}: say what it shall answer with "
                f"answer_picture({operation!r}, ...)"
            )
        return self._pictures[operation]


class _Opened:
    def __init__(self, status: int, headers: Mapping[str, str], parts: list[bytes]) -> None:
        self.status = status
        self.headers = headers
        self.cut_after: int | None = None
        self._parts = parts

    def parts(self) -> Iterator[bytes]:
        for number, part in enumerate(self._parts):
            if number == self.cut_after:
                break
            yield part
        if self.cut_after is not None:
            raise TransportError("The fake server broke off its answer, as told.")

    def chunks(self) -> Iterator[bytes]:
        return self.parts()

    def close(self) -> None:
        pass


class _AsyncOpened:
    def __init__(self, opened: _Opened) -> None:
        self.status = opened.status
        self.headers = opened.headers
        self._opened = opened

    async def chunks(self) -> AsyncIterator[bytes]:
        for part in self._opened.parts():
            yield part

    async def close(self) -> None:
        pass


def _refusal(problem: Problem, retry_after_s: int | None) -> _Opened:
    headers = {"content-type": "application/problem+json"}
    if retry_after_s is not None:
        headers["retry-after"] = str(retry_after_s)
    return _Opened(problem.status, headers, [msgspec.json.encode(problem)])


def _picture_media(asked: Asked) -> str | None:
    """Give the media type of the picture that is asked for, if one is."""
    fmt = getattr(asked.query, "format", None)
    return next((media for media in asked.operation.files if fmt and fmt in media), None)


def _wants_lines(asked: Asked) -> bool:
    return getattr(asked.query, "format", None) == "ndjson"


def _lines_of(trace: TraceAnswer) -> Iterator[TraceLine]:
    yield HeadLine(lot=trace.lot, direction=trace.direction, as_of=trace.as_of)
    for lot in trace.lots:
        yield LotLine(**msgspec.structs.asdict(lot))
    for edge in trace.edges:
        yield EdgeLine(**msgspec.structs.asdict(edge))
    yield EndLine(lots=len(trace.lots), edges=len(trace.edges), counts=trace.counts)
