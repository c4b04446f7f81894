"""The retry rules as a pure generator: no network, no waiting."""

from typing import NamedTuple

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline import (
    DeadlineError,
    ProblemError,
    Response,
    RetryPolicy,
    TransportError,
    UnavailableError,
)
from rindline._retries import Attempt, AttemptOutcome, Pause, attempts
from rindline.testing import FakeClock
from rindline_schema.problems import PROBLEMS, make_problem


def _problem(code: str, **headers: str) -> Response:
    problem = make_problem(code, "as the test says")
    named = {name.replace("_", "-"): text for name, text in headers.items()}
    return Response(problem.status, named, msgspec.json.encode(problem))


LOST = TransportError("lost")
BUSY = _problem("busy")
FINE = Response(200)


class _Run(NamedTuple):
    steps: list[Attempt | Pause]
    end: Response | Exception
    clock: FakeClock

    @property
    def tried(self) -> list[Attempt]:
        return [step for step in self.steps if isinstance(step, Attempt)]

    @property
    def pauses(self) -> list[float]:
        return [step.seconds for step in self.steps if isinstance(step, Pause)]


def _run(
    policy: RetryPolicy,
    outcomes: list[AttemptOutcome],
    *,
    took_s: float = 0.0,
    luck: float = 0.5,
    retried: bool = True,
) -> _Run:
    """Drive the generator; the last outcome repeats, every attempt takes at most ``took_s``."""
    clock = FakeClock(luck=luck)
    steps: list[Attempt | Pause] = []
    generator = attempts(policy, clock, retried=retried)
    given: AttemptOutcome | None = None
    tried = 0
    try:
        step = next(generator)
        while True:
            steps.append(step)
            given = None
            if isinstance(step, Pause):
                clock.sleep(step.seconds)
            else:
                clock.sleep(min(took_s, step.timeout_s))
                given = outcomes[min(tried, len(outcomes) - 1)]
                tried += 1
            step = generator.send(given)
    except StopIteration as end:
        return _Run(steps, end.value, clock)
    except (DeadlineError, TransportError) as error:
        return _Run(steps, error, clock)


_SECONDS = st.floats(0.01, 500, allow_nan=False)
_POLICIES = st.builds(
    RetryPolicy,
    max_attempts=st.integers(1, 30),
    deadline_s=_SECONDS,
    attempt_timeout_s=_SECONDS,
    base_s=st.floats(0.001, 10),
    cap_s=st.floats(0.001, 100),
)
_OUTCOMES = st.lists(
    st.sampled_from(
        [
            LOST,
            TransportError("wrong address", retryable=False),
            BUSY,
            _problem("busy", retry_after="7"),
            _problem("not_found"),
            _problem("internal"),
            Response(502, {}, b"<html>"),
            FINE,
        ]
    ),
    min_size=1,
    max_size=8,
)


@given(policy=_POLICIES, outcomes=_OUTCOMES, took_s=st.floats(0, 100), luck=st.floats(0, 0.999999))
def test_no_call_outlives_its_attempts_or_its_deadline(
    policy: RetryPolicy, outcomes: list[AttemptOutcome], took_s: float, luck: float
) -> None:
    """Whatever comes back: attempts are numbered and bounded, and all ends by the deadline."""
    run = _run(policy, outcomes, took_s=took_s, luck=luck)
    assert [attempt.number for attempt in run.tried] == list(range(1, len(run.tried) + 1))
    assert 1 <= len(run.tried) <= policy.max_attempts
    assert all(0 < attempt.timeout_s <= policy.attempt_timeout_s for attempt in run.tried)
    # The last attempt gets at least a millisecond, however little is left.
    assert run.clock.passed_s <= policy.deadline_s + 0.0011


@given(policy=_POLICIES, outcomes=_OUTCOMES, luck=st.floats(0, 0.999999))
def test_it_ends_with_what_came_last_or_with_the_deadline(
    policy: RetryPolicy, outcomes: list[AttemptOutcome], luck: float
) -> None:
    """Nothing is made up: the end is the last attempt's outcome, or says that time is used up."""
    run = _run(policy, outcomes, luck=luck)
    last = outcomes[min(len(run.tried), len(outcomes)) - 1]
    if isinstance(run.end, DeadlineError):
        assert run.end.__cause__ is not None
        assert isinstance(run.end.__cause__, TransportError | ProblemError)
    else:
        assert run.end is last


@given(policy=_POLICIES, luck=st.floats(0, 0.999999))
def test_jitter_is_full_and_grows_to_its_cap(policy: RetryPolicy, luck: float) -> None:
    """Pause n lies at the drawn share of the smaller of cap and base times 2**(n-1)."""
    run = _run(policy, [LOST], luck=luck)
    for number, seconds in enumerate(run.pauses):
        assert seconds == pytest.approx(luck * min(policy.cap_s, policy.base_s * 2**number))


def test_jitter_can_be_nothing_at_all() -> None:
    """Full jitter begins at 0: stations that failed at one moment spread over the whole span."""
    run = _run(RetryPolicy(max_attempts=4), [LOST], luck=0.0)
    assert run.pauses == [0.0, 0.0, 0.0]


@pytest.mark.parametrize("code", sorted(PROBLEMS))
def test_a_problem_is_retried_exactly_if_the_catalogue_says_so(code: str) -> None:
    """Every problem of the catalogue: sent again if it is retryable, else answered at once."""
    run = _run(RetryPolicy(max_attempts=3, deadline_s=1000), [_problem(code)])
    assert len(run.tried) == (3 if PROBLEMS[code].retryable else 1)


@pytest.mark.parametrize(
    ("status", "tried"), [(502, 3), (504, 3), (429, 3), (404, 1), (418, 1), (301, 1), (200, 1)]
)
def test_an_answer_of_something_in_between_is_judged_by_its_status(status: int, tried: int) -> None:
    """Without problem details, a passing fault of a proxy is retried and nothing else."""
    assert len(_run(RetryPolicy(max_attempts=3), [Response(status, {}, b"?")]).tried) == tried


def test_what_cannot_help_is_not_tried_again() -> None:
    """A wrong address or certificate stays wrong."""
    wrong = TransportError("no such scheme", retryable=False)
    run = _run(RetryPolicy(), [wrong])
    assert (len(run.tried), run.end) == (1, wrong)


def test_a_health_question_is_asked_once() -> None:
    """Who asks whether the server is ready wants to know it now."""
    run = _run(RetryPolicy(), [BUSY], retried=False)
    assert (len(run.tried), run.end) == (1, BUSY)


def test_retry_after_in_seconds_is_the_least_pause() -> None:
    """RFC 9110, 10.2.3: the server's wish is kept, with jitter on top so that not all come back."""
    run = _run(RetryPolicy(base_s=2.0), [_problem("busy", retry_after="7"), FINE], luck=0.25)
    assert run.pauses == [7.5]
    assert run.end is FINE


def test_retry_after_may_be_a_date() -> None:
    """RFC 9110, 10.2.3: the other form is an HTTP date; the fake clock starts at 06:00 UTC."""
    answer = _problem("busy", retry_after="Mon, 05 Jan 2026 06:00:09 GMT")
    run = _run(RetryPolicy(), [answer, FINE], luck=0.0)
    assert run.pauses == [9.0]


@pytest.mark.parametrize("text", ["", "soon", "-3", "Mon, 05 Jan 2026 05:00:00 GMT", "1e3", "²"])
def test_a_retry_after_that_says_nothing_is_passed_over(text: str) -> None:
    """What cannot be read, or lies in the past, asks for no wait."""
    run = _run(RetryPolicy(), [_problem("busy", retry_after=text), FINE], luck=0.0)
    assert run.pauses == [0.0]


def test_a_wait_beyond_the_deadline_is_not_begun() -> None:
    """Where the server asks for more time than is left, the call ends at once and says why."""
    run = _run(RetryPolicy(deadline_s=5), [_problem("busy", retry_after="3600")])
    assert run.clock.passed_s == 0.0
    assert isinstance(run.end, DeadlineError)
    assert isinstance(run.end.__cause__, UnavailableError)
    assert "attempts made: 1" in str(run.end)


def test_the_last_attempt_gets_only_the_time_that_is_left() -> None:
    """An attempt may not run past the call's deadline."""
    policy = RetryPolicy(deadline_s=10, attempt_timeout_s=7, base_s=0.001)
    run = _run(policy, [LOST], took_s=100, luck=0.0)
    assert [round(attempt.timeout_s, 3) for attempt in run.tried] == [7, 3]
    assert isinstance(run.end, DeadlineError)


@pytest.mark.parametrize(
    "wrong", [{"max_attempts": 0}, {"deadline_s": 0.0}, {"cap_s": float("nan")}, {"base_s": -1.0}]
)
def test_a_policy_that_cannot_work_is_refused(wrong: dict[str, float]) -> None:
    """A mistake in the settings shows where they are made."""
    with pytest.raises(ValueError, match=next(iter(wrong))):
        RetryPolicy(**wrong)  # type: ignore[arg-type]
