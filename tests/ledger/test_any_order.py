"""The record does not depend on the order of telling: only on what happened, and when."""

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rindline_schema.events import Arrive, Correct, Cut, Dispatch, Event, Pack, Result
from rindline_schema.problems import Problem
from rindline_server.ledger.world import World
from tests.histories.dairy import History, random_history
from tests.histories.telling import record_of, replayed, tell_until_all_stand, told_again

_SEED = 12
_BIG = 500

# What looks at the present state of what is known, and so may come too early by the order of
# telling alone: whether something is held, whether a discrepancy is open, whether goods that
# left are back.
_GUARDS = {
    "lot_held",
    "not_held",
    "no_such_discrepancy",
    "not_enough",
    "not_here",
    "correction_in_the_way",
}
_OF_HOLDS = {"lot_held", "not_held", "no_such_discrepancy"}
_NEVER_REFUSED = {
    "Arrive",
    "Clean",
    "Declare",
    "Hold",
    "Hoop",
    "Receive",
    "Result",
    "Tend",
    "Unpack",
    "Weigh",
}


def _lots_with_a_past(world: World, history: History) -> set[str]:
    """Lots of which a part of the story may be believed for a while that is not the whole.

    Those told wrongly at first; those that came to one site more than once, or back from a
    customer; those taken out of a case, which until then seem to go with it.
    """
    lots = set(history.doubtful)
    for lot, book in world.books.items():
        came = Counter(entry.site for entry in book.entries if entry.kind in ("born", "arrive"))
        back = any(entry.kind == "arrive" and entry.partner for entry in book.entries)
        unpacked = any(entry.kind == "unpack" for entry in book.entries)
        if back or unpacked or max(came.values(), default=0) > 1:
            lots.add(lot)
    return lots


def _check_refusals(refusals: list[tuple[Event, Problem]], with_a_past: set[str]) -> set[str]:
    for event, problem in refusals:
        assert problem.code in _GUARDS, problem
        assert type(event).__name__ not in _NEVER_REFUSED, problem
        if problem.code not in _OF_HOLDS:
            assert problem.lot in with_a_past, problem
        if problem.code == "correction_in_the_way":
            assert isinstance(event, Correct)
    return {problem.code for _, problem in refusals}


def test_the_history_has_everything_in_it() -> None:
    """The history that is shuffled below has every kind of event, and the awkward turns too."""
    history = random_history(_SEED, _BIG)
    world = replayed(history, history.events)
    kinds = Counter(type(event).__name__ for event in history.events)
    assert set(kinds) >= {
        "Receive", "Make", "Hoop", "Move", "Tend", "Iron", "Weigh", "Cut", "Blend", "Pack",
        "Unpack", "Dispatch", "Arrive", "Sample", "Result", "Hold", "Release", "Discard", "Clean",
        "Correct", "Settle",
    }  # fmt: skip
    assert len(history.events) >= _BIG
    assert all(type(declared).__name__ == "Declare" for declared in history.setup)
    corrections = [event for event in history.events if isinstance(event, Correct)]
    assert any(event.replacement is None for event in corrections)
    replacements = {event.replacement.id for event in corrections if event.replacement}
    assert any(event.event in replacements for event in corrections)
    packed = {event.id: event.case for event in history.events if isinstance(event, Pack)}
    sent = {
        line.case for event in history.events if isinstance(event, Dispatch) for line in event.lines
    }
    assert any(packed.get(event.event) in sent - {None} for event in corrections)
    assert any(isinstance(event, Arrive) and event.returned_by for event in history.events)
    assert any(event.override for event in history.events)
    made_in_cuts = {piece.lot for e in history.events if isinstance(e, Cut) for piece in e.pieces}
    assert any(isinstance(event, Cut) and event.lot in made_in_cuts for event in history.events)
    holds = [entry for entry in world.new_entries if entry.kind == "hold"]
    assert any(isinstance(world.recorded[entry.event], Result) for entry in holds)


def test_told_as_it_happened_nothing_is_refused() -> None:
    """Physically possible histories, told in order, are accepted whole; only losses on the way
    stand out."""
    for seed in range(12):
        history = random_history(seed, 300)
        world, refusals = tell_until_all_stand(history, history.events)
        assert refusals == []
        found = {f.kind for book in world.books.values() for f in book.record.found}
        assert found <= {"arrival_differs"}


@pytest.mark.parametrize("part", range(4))
def test_two_hundred_orders_end_in_the_same_record(part: int) -> None:
    """500 events in 200 shuffled orders, a fifth told twice: the same record, byte for byte.

    Declarations are told first: the office sets up what the rest names. An event may be refused
    for what is not known yet, by the guards named above and no other, and only about goods with
    more of a past than one arrival; it stands when it is told again.
    """
    history = random_history(_SEED, _BIG)
    world, refusals = tell_until_all_stand(history, history.events)
    assert refusals == []
    expected = record_of(world)
    with_a_past = _lots_with_a_past(world, history)
    met: set[str] = set()
    for order in range(50):
        shuffled = told_again(history.events, part * 50 + order)
        world, refusals = tell_until_all_stand(history, shuffled)
        assert record_of(world) == expected
        met |= _check_refusals(refusals, with_a_past)
    assert {"lot_held", "not_held", "not_enough"} <= met


@settings(max_examples=40)
@given(seed=st.integers(0, 10_000), order=st.integers(0, 10_000))
def test_any_history_in_any_order(seed: int, order: int) -> None:
    """Small histories of many kinds: backwards, shuffled and replayed, all give one record."""
    history = random_history(seed, 90)
    world, refusals = tell_until_all_stand(history, history.events)
    assert refusals == []
    expected = record_of(world)
    with_a_past = _lots_with_a_past(world, history)
    for events in (history.events[::-1], told_again(history.events, order)):
        world, refusals = tell_until_all_stand(history, events)
        assert record_of(world) == expected
        _check_refusals(refusals, with_a_past)


def test_replaying_the_ledger_gives_the_record() -> None:
    """Folding the recorded events without judging them, in the order told, gives the same."""
    history = random_history(_SEED, _BIG)
    world, _ = tell_until_all_stand(history, told_again(history.events, 7))
    in_ledger_order = list(world.recorded.values())
    told = {event.id for event in history.events}
    again = replayed(history, [event for event in in_ledger_order if event.id in told])
    assert record_of(again) == record_of(world)
