"""The writer: many requests a commit, each answered for itself, and only once it is on disk."""

import threading
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import closing
from typing import Any

import pytest

from rindline_schema.answers import Outcome, Told
from rindline_schema.events import Event
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.apply import apply
from rindline_server.service import ProblemError, Service, telling, writer
from rindline_server.store import Store
from rindline_server.store.link import Link
from tests.service.callers import ANSWER_S, MANAGER, recorded
from tests.service.dairy import NOW, Dairy

_TIMES = 10_000


class _TornError(Exception):
    """A fault put in on purpose."""


@pytest.fixture
def dairy(service: Service) -> Dairy:
    dairy = Dairy()
    recorded(service, dairy.declared())
    return dairy


@pytest.fixture
def commits(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many requests went into each transaction that was tried."""
    sizes: list[int] = []
    real = telling.tell_units

    def counted(tx: Any, units: Any, context: Any) -> Any:
        sizes.append(len(units))
        return real(tx, units, context)

    monkeypatch.setattr(writer, "tell_units", counted)
    return sizes


def _until(true: Callable[[], bool]) -> None:
    """Wait until something holds; the test fails if it never does."""
    pause = threading.Event()
    for _ in range(_TIMES):
        if true():
            return
        pause.wait(0.002)
    raise AssertionError("what was waited for did not happen")


def _taken(service: Service, store: Store, events: list[Event]) -> list[Future[list[Outcome]]]:
    """Queue events, one a request, so that all but the first share a commit.

    The writer takes the first alone and waits with it for the lock, held here.
    """
    with store.writing():
        futures = [service.tell(MANAGER, [events[0]])]
        _until(service._writer._queue.empty)
        futures += [service.tell(MANAGER, [event]) for event in events[1:]]
        assert not any(future.done() for future in futures)
    return futures


def _problem(future: Future[list[Outcome]]) -> str:
    error = future.exception(ANSWER_S)
    assert isinstance(error, ProblemError)
    return error.problem.code


def test_many_requests_share_a_commit(
    service: Service, store: Store, dairy: Dairy, commits: list[int]
) -> None:
    """What waits while the writer is busy is recorded together, in the order it came."""
    commits.clear()
    events: list[Event] = [dairy.milk(100) for _ in range(40)]
    answers = [future.result(ANSWER_S) for future in _taken(service, store, events)]
    told = [outcome for (outcome,) in answers if isinstance(outcome, Told)]
    assert [outcome.id for outcome in told] == [event.id for event in events]
    first = told[0].seq
    assert [outcome.seq for outcome in told] == list(range(first, first + 40))
    assert commits == [1, 39]


def test_a_poisoned_request_fails_alone(
    service: Service,
    store: Store,
    dairy: Dairy,
    commits: list[int],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A fault in our own rules answers `internal` to the one it met; the others are recorded."""
    commits.clear()
    events: list[Event] = [dairy.milk(100) for _ in range(9)]
    poisoned = events[5].id
    real = apply

    def faulty(world: Any, event: Event, context: Any) -> Any:
        if event.id == poisoned:
            raise _TornError
        return real(world, event, context)

    monkeypatch.setattr(telling, "apply", faulty)
    futures = _taken(service, store, events)
    assert _problem(futures.pop(5)) == "internal"
    told = [outcome for f in futures for outcome in f.result(ANSWER_S) if isinstance(outcome, Told)]
    assert len(told) == 8
    assert not any(outcome.replay for outcome in told)
    assert commits == [1, 8] + [1] * 8, "together, and then one by one"
    monkeypatch.undo()
    (after,) = recorded(service, [events[5]])
    assert (after.seq, after.replay) == (max(outcome.seq for outcome in told) + 1, False)


def test_a_full_queue_says_busy(
    service: Service, store: Store, dairy: Dairy, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Past the limit a request is turned away at once; those taken are told; room comes back."""
    monkeypatch.setattr(writer, "_MOST_UNITS_WAITING", 3)
    extra = dairy.milk(100)
    with store.writing():
        futures = [service.tell(MANAGER, [dairy.milk(100)]) for _ in range(3)]
        assert service.waiting == 3
        with pytest.raises(ProblemError) as error:
            service.tell(MANAGER, [extra])
    assert error.value.problem.code == "busy"
    assert error.value.problem.retryable
    assert all(isinstance(future.result(ANSWER_S)[0], Told) for future in futures)
    _until(lambda: service.waiting == 0)
    assert not recorded(service, [extra])[0].replay


def test_stopping_writes_what_was_taken_and_takes_no_more(
    service: Service, store: Store, dairy: Dairy
) -> None:
    """A stop lets the queue run empty, answers it, and refuses what comes later."""
    stopping = threading.Thread(target=service.stop, args=(ANSWER_S,))
    with store.writing():
        futures = [service.tell(MANAGER, [dairy.milk(100)])]
        _until(service._writer._queue.empty)
        futures += [service.tell(MANAGER, [dairy.milk(100)]) for _ in range(20)]
        stopping.start()
        late = dairy.milk(100)

        def refuses() -> bool:
            try:
                futures.append(service.tell(MANAGER, [dairy.milk(100)]))
            except ProblemError as error:
                return error.problem.code == "stopping"
            return False

        _until(refuses)
        assert not any(future.done() for future in futures)
    stopping.join(ANSWER_S)
    assert not stopping.is_alive()
    assert all(future.done() for future in futures)
    told = [outcome for future in futures for outcome in future.result()]
    assert all(isinstance(outcome, Told) for outcome in told)
    assert len(told) == len(futures) >= 20
    head = service.head()[0]
    assert max(outcome.seq for outcome in told if isinstance(outcome, Told)) == head
    with pytest.raises(ProblemError) as error:
        service.tell(MANAGER, [late])
    assert error.value.problem.code == "stopping"
    assert service.head()[0] == head


def test_a_service_that_was_not_started_takes_nothing(store: Store) -> None:
    """Nothing can wait for ever behind a writer that does not run."""
    idle = Service(store, lambda: NOW, ScaleTolerance())
    with pytest.raises(ProblemError) as error:
        idle.tell(MANAGER, Dairy().declared())
    assert error.value.problem.code == "stopping"


def test_nothing_is_acknowledged_before_its_commit(
    service: Service,
    store: Store,
    dairy: Dairy,
    commits: list[int],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """At the moment of each commit only requests of the commits before it have an answer."""
    commits.clear()
    seen: list[tuple[int, int]] = []
    real = Link.commit
    with store.writing():
        futures = [service.tell(MANAGER, [dairy.milk(100)]) for _ in range(5)]

        def watched(link: Link) -> None:
            seen.append((sum(future.done() for future in futures), sum(commits[:-1])))
            real(link)

        monkeypatch.setattr(Link, "commit", watched)
    for future in futures:
        future.result(ANSWER_S)
    # The first commit seen is the one of this test's own lock, before the writer had its turn.
    assert len(seen) == 1 + len(commits)
    assert [done for done, _ in seen] == [before for _, before in seen]


def test_a_commit_that_fails_acknowledges_nothing(
    service: Service, dairy: Dairy, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a commit the answer is a retryable problem and nothing is there; then it can be."""
    head = service.head()
    milk = dairy.milk(100)

    def torn(_link: Link) -> None:
        raise _TornError

    with monkeypatch.context() as broken:
        broken.setattr(Link, "commit", torn)
        future = service.tell(MANAGER, [milk])
        assert _problem(future) == "internal"
        error = future.exception()
        assert isinstance(error, ProblemError)
        assert error.problem.retryable
    assert service.head() == head
    (told,) = recorded(service, [milk])
    assert (told.seq, told.replay) == (head[0] + 1, False)


def test_a_commit_whose_success_went_unheard_is_not_done_twice(
    service: Service, dairy: Dairy, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the connection breaks after the commit, the event told again is found recorded."""
    head = service.head()[0]
    milk = dairy.milk(100)
    real = Link.commit

    def unheard(link: Link) -> None:
        real(link)
        raise _TornError

    with monkeypatch.context() as broken:
        broken.setattr(Link, "commit", unheard)
        assert _problem(service.tell(MANAGER, [milk])) == "internal"
    (told,) = recorded(service, [milk])
    assert (told.seq, told.replay) == (head + 1, True)
    assert service.head()[0] == head + 1


def test_a_caller_who_goes_away_does_not_stop_the_writer(
    service: Service, store: Store, dairy: Dairy
) -> None:
    """A request once taken can not be cancelled, and others after it are answered."""
    with store.writing():
        gone = service.tell(MANAGER, [dairy.milk(100)])
        assert not gone.cancel()
        other = service.tell(MANAGER, [dairy.milk(100)])
    assert isinstance(other.result(ANSWER_S)[0], Told)
    assert isinstance(gone.result(ANSWER_S)[0], Told)


def test_a_locked_database_says_busy_to_all_who_wait(
    database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who can not get the lock in time is told to come back, without a wait for each request."""
    dairy = Dairy()
    with closing(Store(database_url)) as other, closing(Store(database_url, wait_s=0.5)) as own:
        service = Service(own, lambda: NOW, ScaleTolerance())
        service.start()
        events = dairy.declared()
        tried: list[int] = []
        real = own.writing

        def counted() -> Any:
            tried.append(len(tried))
            return real()

        with monkeypatch.context() as patch, other.writing():
            patch.setattr(own, "writing", counted)
            futures = [service.tell(MANAGER, [event]) for event in events]
            assert {_problem(future) for future in futures} == {"busy"}
        # One may have been taken alone, before the others came.
        assert len(tried) <= 3 < len(events)
        _until(lambda: service.waiting == 0)
        recorded(service, events)
        service.stop(ANSWER_S)
