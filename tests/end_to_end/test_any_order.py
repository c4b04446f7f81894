"""A possible history ends in one record, in whatever order and however often it is told."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing
from functools import cache
from pathlib import Path
from random import Random

import pytest

from rindline import Client
from rindline_schema.answers import Outcome, Refused, Told
from rindline_schema.events import Event
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.clock import now
from rindline_server.service import Service
from rindline_server.store import Store
from tests.end_to_end.derived import Derived, derived_of_database, derived_of_world
from tests.histories.dairy import History, random_history
from tests.histories.telling import tell_until_all_stand
from tests.http.serving import add_key, serving
from tests.service.callers import MANAGER, tell

_EVENTS = 520
_REPEATED = 0.2
_ORDERS = range(10)
_MOST_ROUNDS = 30


@cache
def _history() -> History:
    return random_history(seed=20_260_301, events=_EVENTS)


@cache
def _on_the_pure_rules() -> Derived:
    """What the rules alone make of the history, told in the order in which it happened."""
    world, refusals = tell_until_all_stand(_history(), _history().events)
    assert refusals == []
    return derived_of_world(world)


def _shuffled(seed: int) -> list[Event]:
    """The history in some order, a fifth of it told twice."""
    random = Random(seed)
    events = list(_history().events)
    order = events + random.sample(events, round(_REPEATED * len(events)))
    random.shuffle(order)
    assert order[: len(events)] != events
    return order


def _batches(events: Sequence[Event], random: Random) -> Iterator[Sequence[Event]]:
    """Batches of very different sizes, down to one event."""
    start = 0
    while start < len(events):
        size = random.choice((1, 7, 40, 150))
        yield events[start : start + size]
        start += size


def _tell_until_all_stand(
    order: Sequence[Event], seed: int, send: Callable[[Sequence[Event]], Iterable[Outcome]]
) -> tuple[int, int]:
    """Tell what was refused again after the others; gives how many were refused and repeated.

    What is refused at first is what contradicts the part of the history known by then: a wheel
    cut after it was sent away, say, whose return is still untold.
    """
    random = Random(seed)
    ahead, refused, replayed = list(order), 0, 0
    for _ in range(_MOST_ROUNDS):
        again: list[Event] = []
        for batch in _batches(ahead, random):
            for event, outcome in zip(batch, send(batch), strict=True):
                if isinstance(outcome, Refused):
                    again.append(event)
                else:
                    replayed += outcome.replay
        refused += len(again)
        ahead = again
        if not ahead:
            return refused, replayed
    raise AssertionError([event.id for event in ahead])


def _assert_same_record(url: str) -> None:
    found, expected = derived_of_database(url), _on_the_pure_rules()
    assert set(found) == set(expected)
    for table, rows in expected.items():
        assert found[table] == rows, table
    assert len(found["entries"]) > 2 * _EVENTS


def _assert_sound(service: Service, events: int) -> None:
    """The chain is whole, each event is in it once, and a fold from zero gives these tables."""

    def quiet(_done: int, _of: int) -> None:
        pass

    verified = service.verify(quiet)
    assert (verified.fault, verified.events) == (None, events)
    assert service.rebuild(quiet, check=True).differences == []


@pytest.mark.parametrize("seed", _ORDERS)
def test_any_order_through_the_service(database_url: str, seed: int) -> None:
    """Ten orders with repeats, in batches of 1 to 150: the record of the pure rules, each time."""
    history = _history()
    with closing(Store(database_url)) as store:
        service = Service(store, now, ScaleTolerance())
        service.start()
        try:
            tell(service, history.setup)
            order = _shuffled(seed)
            _, replayed = _tell_until_all_stand(
                order, seed, lambda batch: tell(service, batch, MANAGER)
            )
        finally:
            service.stop(60)
        assert replayed == len(order) - len(history.events) >= 100
        _assert_same_record(database_url)
        _assert_sound(service, len(history.setup) + len(history.events))


@pytest.mark.slow
def test_any_order_over_http(database_url: str, tmp_path: Path) -> None:
    """One order told with the SDK to a real server, some of it alone and some in batches."""
    history = _history()
    key = add_key(database_url, "manager")
    with serving(database_url, tmp_path) as server, Client(server.url, key) as client:
        assert all(isinstance(o, Told) for o in client.tell_many(history.setup))
        order = _shuffled(99)
        _, replayed = _tell_until_all_stand(order, 99, client.tell_many)
        assert replayed == len(order) - len(history.events)
        seqs = [event.seq for event in client.feed()]
        assert seqs == list(range(1, len(history.setup) + len(history.events) + 1))
    _assert_same_record(database_url)
    with closing(Store(database_url)) as store:
        _assert_sound(Service(store, now, ScaleTolerance()), len(seqs))
