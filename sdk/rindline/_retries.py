"""Whether to try again, and when: a pure generator that the drivers obey.

It yields :class:`Attempt` (send now, with this time limit) or :class:`Pause` (wait so long) and
is sent what came of each attempt. It never sleeps and never sends.
"""

from collections.abc import Generator
from dataclasses import dataclass
from datetime import UTC
from email.utils import parsedate_to_datetime
from math import isfinite
from typing import TypeAlias

from rindline._answers import read_problem
from rindline._clock import Clock
from rindline._wire import Response
from rindline.errors import DeadlineError, TransportError, problem_error

__all__ = ["Attempt", "AttemptOutcome", "Pause", "RetryPolicy", "attempts", "may_help", "pause_s"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RetryPolicy:
    """How patient a client is; all times in seconds.

    Before retry n it waits a random time from 0 to ``least(cap_s, base_s * 2**(n-1))`` (full
    jitter, so that many stations do not come back at one moment), at least what the server asks
    for in ``Retry-After``. ``deadline_s`` bounds a call as a whole, ``attempt_timeout_s`` each
    attempt.
    """

    max_attempts: int = 8
    deadline_s: float = 90.0
    attempt_timeout_s: float = 30.0
    base_s: float = 0.2
    cap_s: float = 10.0

    def __post_init__(self) -> None:
        if self.max_attempts < 1:
            raise ValueError("max_attempts must be at least 1")
        for name in ("deadline_s", "attempt_timeout_s", "base_s", "cap_s"):
            if not (isfinite(getattr(self, name)) and getattr(self, name) > 0):
                raise ValueError(f"{name} must be a number of seconds above 0")


@dataclass(frozen=True, slots=True)
class Attempt:
    """Send now; give up after ``timeout_s``. ``number`` counts from 1."""

    number: int
    timeout_s: float


@dataclass(frozen=True, slots=True)
class Pause:
    """Wait so long, then go on."""

    seconds: float


AttemptOutcome: TypeAlias = Response | TransportError
_Steps: TypeAlias = Generator[Attempt | Pause, AttemptOutcome | None, Response]

_LEAST_S = 0.001

# What a proxy or the server answers when the same request may succeed later. Of a 500 it is not
# known, but every operation is safe to repeat.
_STATUSES = frozenset({408, 425, 429, 500, 502, 503, 504})


def attempts(policy: RetryPolicy, clock: Clock, *, retried: bool = True) -> _Steps:
    """Decide the attempts of one call; returns the answer to read.

    Raises the last :class:`TransportError` when the attempts are used up or retrying is no use,
    and :class:`DeadlineError` as soon as the next attempt would lie beyond the deadline.
    """
    ends_at = clock.monotonic_s() + policy.deadline_s
    number = 1
    while True:
        # A pause may take longer than was asked; the attempt after it still gets a moment.
        left_s = max(_LEAST_S, ends_at - clock.monotonic_s())
        outcome = yield Attempt(number, min(policy.attempt_timeout_s, left_s))
        if outcome is None:
            raise TypeError("an attempt must be answered with what came of it")
        if not retried or number == policy.max_attempts or not may_help(outcome):
            if isinstance(outcome, TransportError):
                raise outcome
            return outcome
        seconds = pause_s(policy, clock, number, outcome)
        if seconds >= ends_at - clock.monotonic_s():
            last = _as_error(outcome)
            raise DeadlineError(_used_up(policy, number, last)) from last
        yield Pause(seconds)
        number += 1


def may_help(outcome: AttemptOutcome) -> bool:
    """Tell whether the same request may succeed later."""
    if isinstance(outcome, TransportError):
        return outcome.retryable
    if outcome.status not in _STATUSES:
        return False
    problem = read_problem(outcome)
    return problem is None or problem.retryable


def pause_s(policy: RetryPolicy, clock: Clock, number: int, outcome: AttemptOutcome) -> float:
    """Give how long to wait after attempt ``number``, by chance and by ``Retry-After``."""
    # The exponent is bounded because 2.0**1024 is an error.
    most_s = min(policy.cap_s, policy.base_s * 2.0 ** min(number - 1, 60))
    jitter_s = clock.chance() * most_s
    if isinstance(outcome, TransportError):
        return jitter_s
    return jitter_s + _retry_after_s(outcome, clock)


def _retry_after_s(response: Response, clock: Clock) -> float:
    """Read ``Retry-After`` (RFC 9110, 10.2.3): seconds or a date; 0 if absent or unreadable."""
    text = response.headers.get("retry-after", "").strip()
    if text.isascii() and text.isdigit():
        return float(text[:9])
    try:
        moment = parsedate_to_datetime(text)
    except ValueError:
        return 0.0
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    return max(0.0, (moment - clock.now()).total_seconds())


def _as_error(outcome: AttemptOutcome) -> Exception:
    if isinstance(outcome, TransportError):
        return outcome
    problem = read_problem(outcome)
    if problem is None:
        return TransportError(f"HTTP {outcome.status}, without problem details.")
    return problem_error(problem)


def _used_up(policy: RetryPolicy, number: int, last: Exception) -> str:
    return (
        f"No answer within the {policy.deadline_s:g} s this call may take; attempts made: "
        f"{number}. The last one: {last} It is safe to try again later: what is told is recorded "
        "once, however often it is sent."
    )
