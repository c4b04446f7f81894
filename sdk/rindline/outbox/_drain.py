"""What an outbox of events sends, and when: with numbers, ages, and the use of its lot codes."""

from collections.abc import Collection, Sequence
from typing import Any
from uuid import UUID

import msgspec

from rindline._answers import parse_answer
from rindline._clock import Clock
from rindline._operations import raw_call
from rindline._retries import AttemptOutcome, RetryPolicy
from rindline._wire import Call, Response
from rindline.errors import RindlineError, UnexpectedAnswerError
from rindline.outbox._blocks import Blocks
from rindline.outbox._delivery import PATIENCE, Delivery, Send, Steps, Verdict, Wait, said
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
from rindline_schema.problems import Problem

__all__ = ["Drain"]

_MOST_ITEMS = 200
_IDLE_S = 1.0
# A station that has nothing to tell says so, or it would look dead.
_ALIVE_S = 300.0


class Drain(Delivery[Kept, Outcome]):
    """The sending of one file; only the holder of its lock may run it."""

    def __init__(self, file: OutboxFile, queue: Queue, blocks: Blocks, clock: Clock) -> None:
        super().__init__(file, clock, _MOST_ITEMS)
        self._queue = queue
        self._blocks = blocks
        self._uses: list[BlockUse] = []
        self._no_codes_before_s = 0.0
        self._spoke_s = clock.monotonic_s()

    def steps(self, policy: RetryPolicy = PATIENCE) -> Steps:
        """Send what there is, for ever."""
        while True:
            outcome: AttemptOutcome | None = None
            verdict: Verdict = "good"
            asked = self._codes_to_ask()
            self._queue.ages.remember()
            batch, self._uses = self._next(), self._blocks.news()
            if asked is not None:
                outcome = yield Send(_reserving(asked), policy.attempt_timeout_s)
                verdict = self._take_block(asked, outcome, policy)
            elif batch or self._uses or self._silent():
                outcome = yield Send(self._telling(batch), policy.attempt_timeout_s)
                verdict = self._take_answer(batch, outcome)
            else:
                yield Wait(_IDLE_S, idle=True)
                continue
            if verdict == "good":
                self._failures = 0
                self._spoke_s = self._clock.monotonic_s()
            elif verdict == "wait" and outcome is not None:
                yield self._pause(policy, outcome)

    # --- what to send -------------------------------------------------------------------------

    def _codes_to_ask(self) -> CodeBlockRequest | None:
        if self._clock.monotonic_s() < self._no_codes_before_s:
            return None
        return self._blocks.next_request()

    def _queued(self, limit: int, without: Collection[int]) -> list[Kept]:
        return self._queue.next_batch(limit, self._queue.ages.now(), without)

    def _silent(self) -> bool:
        return self._clock.monotonic_s() - self._spoke_s >= _ALIVE_S

    def _telling(self, batch: Sequence[Kept]) -> Call[Response]:
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
            "blocks": self._uses,
        }
        if oldest:
            body["oldest_age_ms"] = oldest[0].queued_ms
        return raw_call("tell_from_outbox", msgspec.json.encode(body))

    # --- what came of it ----------------------------------------------------------------------

    def _results(self, batch: list[Kept], response: Response) -> list[tuple[int, Outcome]]:
        return _matched(batch, parse_answer(response, BatchAnswer))

    def _refusal(self, problem: Problem) -> Outcome:
        return Refused(problem=problem)

    def _problem_of(self, result: Outcome) -> Problem | None:
        return result.problem if isinstance(result, Refused) else None

    def _keep(self, results: Sequence[tuple[int, Outcome]]) -> None:
        self._queue.settle(results)

    def _after(self, results: list[tuple[int, Outcome]]) -> Verdict:
        self._blocks.told(self._uses)
        return super()._after(results)

    def _take_block(
        self, asked: CodeBlockRequest, outcome: AttemptOutcome | None, policy: RetryPolicy
    ) -> Verdict:
        try:
            if not isinstance(outcome, Response):
                return self._wait(said(outcome))
            self._blocks.take(asked, parse_answer(outcome, CodeBlock))
        except RindlineError as error:
            # The events must not wait for codes: these are asked for again after a while.
            self._no_codes_before_s = self._clock.monotonic_s() + policy.cap_s
            self._file.note(codes_error=str(error))
            return "again"
        self._file.note(codes_error=None)
        return "good"


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
