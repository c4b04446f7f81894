"""What becomes of a batch that was sent: settled, tried again, or waited for. No I/O but the file.

It is the same whatever is sent, events or readings. The drivers obey generators that yield
:class:`Send` or :class:`Wait`, as the clients' retries are, and that neither sleep nor send.
"""

from abc import ABC, abstractmethod
from collections.abc import Collection, Generator, Sequence
from dataclasses import dataclass
from typing import Generic, Literal, Protocol, TypeAlias, TypeVar

import msgspec

from rindline._answers import parse_answer, read_problem
from rindline._clock import Clock
from rindline._retries import AttemptOutcome, RetryPolicy, pause_s
from rindline._wire import Call, Response
from rindline.errors import RindlineError, TransportError, UnexpectedAnswerError, problem_error
from rindline.outbox._file import OutboxFile
from rindline_schema.problems import PROBLEMS, Problem

__all__ = ["PATIENCE", "Delivery", "Send", "Steps", "Verdict", "Wait", "said"]

PATIENCE = RetryPolicy(base_s=0.5, cap_s=60.0, attempt_timeout_s=30.0)
"""How patient an outbox is: it never gives up, so that only times count."""

# However long a proxy asks us to wait.
_LONGEST_S = 3600.0
# So often the server must say of one entry that the body is wrong: a body may be hurt underway.
_SURE = 3
_KEY_PROBLEMS = frozenset({"unauthorized", "forbidden"})
# About the address or the request's frame, so no entry is to blame.
_FRAME_PROBLEMS = frozenset({"not_found", "method_not_allowed", "unknown_parameter"})


@dataclass(frozen=True, slots=True)
class Send:
    """Send this once, and say what came of it."""

    call: Call[Response]
    timeout_s: float


@dataclass(frozen=True, slots=True)
class Wait:
    """Wait so long. ``idle``: there is nothing to send, so a new entry ends the wait."""

    seconds: float
    idle: bool


Steps: TypeAlias = Generator[Send | Wait, AttemptOutcome | None, None]
Verdict: TypeAlias = Literal["good", "again", "wait"]


class _Numbered(Protocol):
    @property
    def number(self) -> int: ...


K = TypeVar("K", bound=_Numbered)
R = TypeVar("R")


class Delivery(ABC, Generic[K, R]):
    """Settles batches of one file. ``K`` is an entry as it goes out, ``R`` what came of one.

    ``most`` entries go out at once; fewer while the network is bad.
    """

    def __init__(self, file: OutboxFile, clock: Clock, most: int) -> None:
        self._file = file
        self._clock = clock
        self._most = self._limit = most
        self._failures = 0
        # Entries that may be what the server stumbles over, and how often it did.
        self._suspects: dict[int, Problem] = {}
        self._blamed: dict[int, int] = {}

    # --- what each sort of outbox says --------------------------------------------------------

    @abstractmethod
    def _queued(self, limit: int, without: Collection[int]) -> list[K]:
        """Give the first queued entries, but for those numbers."""

    @abstractmethod
    def _results(self, batch: list[K], response: Response) -> list[tuple[int, R]]:
        """Read an answer; raises :class:`UnexpectedAnswerError` if it is not one to this batch."""

    @abstractmethod
    def _refusal(self, problem: Problem) -> R:
        """Give the result that stands for a refusal."""

    @abstractmethod
    def _problem_of(self, result: R) -> Problem | None:
        """Give the problem of a result, if it is a refusal."""

    @abstractmethod
    def _keep(self, results: Sequence[tuple[int, R]]) -> None:
        """Write the results to the file."""

    # --- what is the same for all -------------------------------------------------------------

    def _next(self) -> list[K]:
        batch = self._queued(self._limit, self._suspects)
        if not batch and self._suspects:
            # Nothing else is left to tell whether they are to blame: try them again.
            self._suspects.clear()
            batch = self._queued(1, ())
        return batch

    def _pause(self, policy: RetryPolicy, outcome: AttemptOutcome) -> Wait:
        self._failures += 1
        seconds = pause_s(policy, self._clock, self._failures, outcome)
        return Wait(min(seconds, _LONGEST_S), idle=False)

    def _take_answer(self, batch: list[K], outcome: AttemptOutcome | None) -> Verdict:
        if isinstance(outcome, Response) and outcome.ok:
            try:
                results = self._results(batch, outcome)
            except UnexpectedAnswerError as error:
                return self._wait(error)
            self._settle(results)
            return self._after(results)
        problem = read_problem(outcome) if isinstance(outcome, Response) else None
        if problem is None or problem.code not in PROBLEMS:
            # Nobody of ours answered: the network, or something in between.
            self._limit = max(1, self._limit // 2)
            return self._wait(said(outcome))
        if problem.code in _KEY_PROBLEMS:
            self._file.note(paused=f"The key is not taken: {problem_error(problem)}")
            return self._wait(problem_error(problem))
        if problem.code == "internal":
            return self._stumbled(batch, problem)
        if problem.retryable or problem.code in _FRAME_PROBLEMS or not batch:
            return self._wait(problem_error(problem))
        return self._wrong_body(batch, problem)

    def _settle(self, results: list[tuple[int, R]]) -> None:
        blamed = [(number, self._refusal(problem)) for number, problem in self._suspects.items()]
        # The server serves others, so it is these entries that it cannot take.
        self._keep([*results, *(blamed if results else [])])
        if results:
            self._suspects.clear()
            self._blamed.clear()

    def _after(self, results: list[tuple[int, R]]) -> Verdict:
        self._limit = min(self._most, self._limit * 2)
        self._file.note(
            paused=None,
            last_error=None,
            last_error_at=None,
            last_sent_at=self._clock.now().isoformat(timespec="seconds"),
        )
        for _, result in results:
            problem = self._problem_of(result)
            if problem is not None and problem.retryable:
                return self._wait(problem_error(problem))
        return "good"

    def _stumbled(self, batch: list[K], problem: Problem) -> Verdict:
        """The server failed within: find out whether it is one entry that it fails over."""
        if len(batch) > 1:
            self._limit = max(1, len(batch) // 2)
        elif batch:
            self._suspects[batch[0].number] = msgspec.structs.replace(problem, retryable=False)
        return self._wait(problem_error(problem))

    def _wrong_body(self, batch: list[K], problem: Problem) -> Verdict:
        """The server cannot read the body: send less of it, down to the entry that is to blame."""
        if len(batch) > 1:
            self._limit = len(batch) // 2
            return "again"
        number = batch[0].number
        self._blamed[number] = self._blamed.get(number, 0) + 1
        if self._blamed[number] < _SURE:
            return self._wait(problem_error(problem))
        self._settle([(number, self._refusal(problem))])
        return "again"

    def _wait(self, error: Exception) -> Verdict:
        if self._file.about("last_error") != str(error):
            at = self._clock.now().isoformat(timespec="seconds")
            self._file.note(last_error=str(error), last_error_at=at)
        return "wait"


def said(outcome: AttemptOutcome | None) -> RindlineError:
    """Give the error that a failed sending stands for."""
    if isinstance(outcome, TransportError):
        return outcome
    if outcome is None:
        raise TypeError("a sending must be answered with what came of it")
    try:
        parse_answer(outcome, Response)
    except RindlineError as error:
        return error
    return UnexpectedAnswerError(f"HTTP {outcome.status} in answer to nothing.")
