"""What an outbox of readings sends, and when: batches, those that wait longest first."""

from collections.abc import Collection, Sequence

from rindline._air_operations import reading_body
from rindline._answers import parse_answer
from rindline._clock import Clock
from rindline._operations import raw_call
from rindline._retries import RetryPolicy
from rindline._wire import Response
from rindline.errors import UnexpectedAnswerError
from rindline.outbox._delivery import PATIENCE, Delivery, Send, Steps, Wait
from rindline.outbox._file import OutboxFile
from rindline.outbox._reading_queue import KeptReading, ReadingQueue
from rindline_schema.answers import ReadingsAnswer
from rindline_schema.problems import Problem

__all__ = ["ReadingDrain"]

# Half of what the server takes: on a slow network a body must get through within an attempt.
_MOST_READINGS = 5_000
_IDLE_S = 1.0


class ReadingDrain(Delivery[KeptReading, Problem | None]):
    """The sending of one file; only the holder of its lock may run it."""

    def __init__(self, file: OutboxFile, queue: ReadingQueue, clock: Clock) -> None:
        super().__init__(file, clock, _MOST_READINGS)
        self._queue = queue

    def steps(self, policy: RetryPolicy = PATIENCE) -> Steps:
        """Send what there is, for ever."""
        while True:
            self._queue.ages.remember()
            batch = self._next()
            if not batch:
                yield Wait(_IDLE_S, idle=True)
                continue
            call = raw_call("tell_readings", reading_body(kept.body for kept in batch))
            outcome = yield Send(call, policy.attempt_timeout_s)
            verdict = self._take_answer(batch, outcome)
            if verdict == "good":
                self._failures = 0
            elif verdict == "wait" and outcome is not None:
                yield self._pause(policy, outcome)

    def _queued(self, limit: int, without: Collection[int]) -> list[KeptReading]:
        return self._queue.next_batch(limit, without)

    def _results(
        self, batch: list[KeptReading], response: Response
    ) -> list[tuple[int, Problem | None]]:
        answer = parse_answer(response, ReadingsAnswer)
        refused = {one.index: one.problem for one in answer.refused}
        # The answer to another request, from something in between, must settle nothing here.
        if (
            answer.recorded + answer.repeated + len(answer.refused) != len(batch)
            or len(refused) != len(answer.refused)
            or not all(0 <= index < len(batch) for index in refused)
        ):
            raise UnexpectedAnswerError(
                f"The answer counts {answer.recorded} recorded, {answer.repeated} repeated and "
                f"{len(answer.refused)} refused, for {len(batch)} readings."
            )
        return [(kept.number, refused.get(index)) for index, kept in enumerate(batch)]

    def _refusal(self, problem: Problem) -> Problem | None:
        return problem

    def _problem_of(self, result: Problem | None) -> Problem | None:
        return result

    def _keep(self, results: Sequence[tuple[int, Problem | None]]) -> None:
        self._queue.settle(results)
