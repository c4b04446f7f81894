"""What an outbox sends, and when: a generator that the drivers obey, as the clients' retries are.

It yields :class:`Send` or :class:`Wait` and is sent what came of each sending. It reads and
writes the outbox's file, and neither sleeps nor sends.
"""

from collections.abc import Generator, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias
from uuid import UUID

import msgspec

from rindline._answers import parse_answer, read_problem
from rindline._clock import Clock
from rindline._operations import raw_call
from rindline._retries import AttemptOutcome, RetryPolicy, pause_s
from rindline._wire import Call, Response
from rindline.errors import RindlineError, TransportError, UnexpectedAnswerError, problem_error
from rindline.outbox._blocks import Blocks
from rindline.outbox._file import OutboxFile
from rindline.outbox._queue import Kept, Queue
from rindline_schema.answers import (
    BatchAnswer,
    BlockUse,
    CodeBlock,
    CodeBlockRequest,
    Outcome,
    Refused,
)
from rindline_schema.problems import PROBLEMS, Problem

__all__ = ["PATIENCE", "Drain", "Send", "Wait"]

PATIENCE = RetryPolicy(base_s=0.5, cap_s=60.0, attempt_timeout_s=30.0)
"""How patient an outbox is: it never gives up, so that only times count."""

_MOST_ITEMS = 200
_IDLE_S = 1.0
# A station that has nothing to tell says so, or it would look dead.
_ALIVE_S = 300.0
# However long a proxy asks us to wait.
_LONGEST_S = 3600.0
# So often the server must say of one event that the body is wrong: a body may be hurt underway.
_SURE = 3
_KEY_PROBLEMS = frozenset({"unauthorized", "forbidden"})
# About the address or the request's frame, so no event is to blame.
_FRAME_PROBLEMS = frozenset({"not_found", "method_not_allowed", "unknown_parameter"})


@dataclass(frozen=True, slots=True)
class Send:
    """Send this once, and say what came of it."""

    call: Call[Response]
    timeout_s: float


@dataclass(frozen=True, slots=True)
class Wait:
    """Wait so long. ``idle``: there is nothing to send, so a new event ends the wait."""

    seconds: float
    idle: bool


Steps: TypeAlias = Generator[Send | Wait, AttemptOutcome | None, None]
_Verdict: TypeAlias = Literal["good", "again", "wait"]


class Drain:
    """The sending of one file; only the holder of its lock may run it."""

    def __init__(self, file: OutboxFile, queue: Queue, blocks: Blocks, clock: Clock) -> None:
        self._file = file
        self._queue = queue
        self._blocks = blocks
        self._clock = clock
        self._limit = _MOST_ITEMS
        self._failures = 0
        self._no_codes_before_s = 0.0
        self._spoke_s = clock.monotonic_s()
        # Events that may be what the server stumbles over, and how often it did.
        self._suspects: dict[int, Problem] = {}
        self._blamed: dict[int, int] = {}

    def steps(self, policy: RetryPolicy = PATIENCE) -> Steps:
        """Send what there is, for ever."""
        while True:
            outcome: AttemptOutcome | None = None
            verdict: _Verdict = "good"
            asked = self._codes_to_ask()
            batch, uses = self._batch()
            if asked is not None:
                outcome = yield Send(_reserving(asked), policy.attempt_timeout_s)
                verdict = self._take_block(asked, outcome, policy)
            elif batch or uses or self._silent():
                outcome = yield Send(self._telling(batch, uses), policy.attempt_timeout_s)
                verdict = self._take_answer(batch, uses, outcome)
            else:
                yield Wait(_IDLE_S, idle=True)
                continue
            if verdict == "good":
                self._failures = 0
                self._spoke_s = self._clock.monotonic_s()
            elif verdict == "wait" and outcome is not None:
                self._failures += 1
                seconds = pause_s(policy, self._clock, self._failures, outcome)
                yield Wait(min(seconds, _LONGEST_S), idle=False)

    # --- what to send -------------------------------------------------------------------------

    def _codes_to_ask(self) -> CodeBlockRequest | None:
        if self._clock.monotonic_s() < self._no_codes_before_s:
            return None
        return self._blocks.next_request()

    def _batch(self) -> tuple[list[Kept], list[BlockUse]]:
        now = self._queue.ages.remember()
        batch = self._queue.next_batch(self._limit, now, self._suspects)
        if not batch and self._suspects:
            # Nothing else is left to tell whether they are to blame: try them again.
            self._suspects.clear()
            batch = self._queue.next_batch(1, now)
        return batch, self._blocks.news()

    def _silent(self) -> bool:
        return self._clock.monotonic_s() - self._spoke_s >= _ALIVE_S

    def _telling(self, batch: Sequence[Kept], uses: Sequence[BlockUse]) -> Call[Response]:
        queued, set_aside, next_number = self._queue.counts()
        oldest = self._queue.next_batch(1, self._queue.ages.now())
        # The events as they are on disk, not read and written again.
        items = [
            {"number": kept.number, "age_ms": kept.age_ms, "event": msgspec.Raw(kept.event)}
            for kept in batch
        ]
        body: dict[str, Any] = {
            "outbox": self._file.outbox,
            "station_clock": self._clock.now(),
            "next_number": next_number,
            "queued": queued,
            "set_aside": set_aside,
            "items": items,
            "blocks": uses,
        }
        if oldest:
            body["oldest_age_ms"] = oldest[0].queued_ms
        return raw_call("tell_from_outbox", msgspec.json.encode(body))

    # --- what came of it ----------------------------------------------------------------------

    def _take_answer(
        self, batch: list[Kept], uses: list[BlockUse], outcome: AttemptOutcome | None
    ) -> _Verdict:
        if isinstance(outcome, Response) and outcome.ok:
            try:
                answered = _matched(batch, parse_answer(outcome, BatchAnswer))
            except UnexpectedAnswerError as error:
                return self._wait(error)
            self._settle(answered)
            self._blocks.told(uses)
            return self._after(answered)
        problem = read_problem(outcome) if isinstance(outcome, Response) else None
        if problem is None or problem.code not in PROBLEMS:
            # Nobody of ours answered: the network, or something in between.
            self._limit = max(1, self._limit // 2)
            return self._wait(_said(outcome))
        if problem.code in _KEY_PROBLEMS:
            self._file.note(paused=f"The key is not taken: {problem_error(problem)}")
            return self._wait(problem_error(problem))
        if problem.code == "internal":
            return self._stumbled(batch, problem)
        if problem.retryable or problem.code in _FRAME_PROBLEMS or not batch:
            return self._wait(problem_error(problem))
        return self._wrong_body(batch, problem)

    def _settle(self, answered: list[tuple[int, Outcome]]) -> None:
        blamed = [(number, Refused(problem=problem)) for number, problem in self._suspects.items()]
        # The server serves others, so it is these events that it cannot take.
        self._queue.settle([*answered, *(blamed if answered else [])])
        if answered:
            self._suspects.clear()
            self._blamed.clear()

    def _after(self, answered: list[tuple[int, Outcome]]) -> _Verdict:
        self._limit = min(_MOST_ITEMS, self._limit * 2)
        self._file.note(
            paused=None,
            last_error=None,
            last_error_at=None,
            last_sent_at=self._clock.now().isoformat(timespec="seconds"),
        )
        for _, outcome in answered:
            if isinstance(outcome, Refused) and outcome.problem.retryable:
                return self._wait(problem_error(outcome.problem))
        return "good"

    def _stumbled(self, batch: list[Kept], problem: Problem) -> _Verdict:
        """The server failed within: find out whether it is one event that it fails over."""
        if len(batch) > 1:
            self._limit = max(1, len(batch) // 2)
        elif batch:
            self._suspects[batch[0].number] = msgspec.structs.replace(problem, retryable=False)
        return self._wait(problem_error(problem))

    def _wrong_body(self, batch: list[Kept], problem: Problem) -> _Verdict:
        """The server cannot read the body: send less of it, down to the event that is to blame."""
        if len(batch) > 1:
            self._limit = len(batch) // 2
            return "again"
        number = batch[0].number
        self._blamed[number] = self._blamed.get(number, 0) + 1
        if self._blamed[number] < _SURE:
            return self._wait(problem_error(problem))
        self._settle([(number, Refused(problem=problem))])
        return "again"

    def _take_block(
        self, asked: CodeBlockRequest, outcome: AttemptOutcome | None, policy: RetryPolicy
    ) -> _Verdict:
        try:
            if not isinstance(outcome, Response):
                return self._wait(_said(outcome))
            self._blocks.take(asked, parse_answer(outcome, CodeBlock))
        except RindlineError as error:
            # The events must not wait for codes: these are asked for again after a while.
            self._no_codes_before_s = self._clock.monotonic_s() + policy.cap_s
            self._file.note(codes_error=str(error))
            return "again"
        self._file.note(codes_error=None)
        return "good"

    def _wait(self, error: Exception) -> _Verdict:
        self._note_error(error)
        return "wait"

    def _note_error(self, error: Exception) -> None:
        if self._file.about("last_error") != str(error):
            at = self._clock.now().isoformat(timespec="seconds")
            self._file.note(last_error=str(error), last_error_at=at)


def _reserving(asked: CodeBlockRequest) -> Call[Response]:
    return raw_call("reserve_codes", msgspec.json.encode(asked))


def _matched(batch: Sequence[Kept], answer: BatchAnswer) -> list[tuple[int, Outcome]]:
    """Pair events and outcomes; raises :class:`UnexpectedAnswerError` if they are not of these."""
    if len(answer.outcomes) != len(batch):
        raise UnexpectedAnswerError(
            f"The answer has {len(answer.outcomes)} outcomes for {len(batch)} events."
        )
    for kept, outcome in zip(batch, answer.outcomes, strict=True):
        # The answer to another request, from something in between, must settle nothing here.
        if outcome.id is not None and str(outcome.id) != str(UUID(kept.id)):
            raise UnexpectedAnswerError(f"The answer is about {outcome.id}, not {kept.id}.")
    return [(kept.number, outcome) for kept, outcome in zip(batch, answer.outcomes, strict=True)]


def _said(outcome: AttemptOutcome | None) -> RindlineError:
    if isinstance(outcome, TransportError):
        return outcome
    if outcome is None:
        raise TypeError("a sending must be answered with what came of it")
    try:
        parse_answer(outcome, Response)
    except RindlineError as error:
        return error
    return UnexpectedAnswerError(f"HTTP {outcome.status} in answer to nothing.")
