"""The rules say beforehand all that they will look at: a loader may leave everything else out."""

from collections.abc import Sequence

import pytest

from rindline_schema.events import Event
from rindline_schema.problems import Problem
from rindline_server.ledger.apply import Context, Recorded, RefusalError, apply
from rindline_server.ledger.world import NotLoadedError, World
from tests.histories.dairy import random_history
from tests.histories.telling import context, empty_world, told_again
from tests.ledger.partial import part_of

_LISTS = (
    "new_entries",
    "void_entries",
    "new_edges",
    "void_edges",
    "new_versions",
    "void_versions",
    "new_voids",
    "new_links",
    "new_findings",
    "void_findings",
    "steps",
)


def _answer(world: World, event: Event, now: Context) -> Recorded | Problem:
    try:
        return apply(world, event, now)
    except RefusalError as refusal:
        return refusal.problem


def _tell_in_batches(seed: int, size: int) -> set[str]:
    """Tell a shuffled history twice over: to everything, and to as little as it needs."""
    history = random_history(seed, 250)
    now = context(history.until)
    full = empty_world()
    for declare in history.setup:
        apply(full, declare, now)
    ahead = told_again(history.events, seed)
    met: set[str] = set()
    told: set[str] = set()
    for _ in range(4):
        refused: list[Event] = []
        for start in range(0, len(ahead), size):
            batch = [e for e in ahead[start : start + size] if str(e.id) not in told]
            batch = list({event.id: event for event in batch}.values())
            part = part_of(full, batch)
            _forget_changes(full)
            for event in batch:
                answer = _answer(full, event, now)
                assert _answer(part, event, now) == answer
                if isinstance(answer, Problem):
                    refused.append(event)
                    met.add(answer.code)
                else:
                    told.add(str(event.id))
            _compare(full, part, batch)
        ahead = refused
    return met


def _forget_changes(world: World) -> None:
    world.touched = {}
    world.new_serials = {}
    for name in _LISTS:
        setattr(world, name, [])


def _compare(full: World, part: World, batch: Sequence[Event]) -> None:
    for name in _LISTS:
        assert getattr(part, name) == getattr(full, name), (name, batch)
    assert part.touched.keys() == full.touched.keys()
    for lot in part.touched:
        if part.books[lot].is_whole:
            assert part.books[lot].record == full.books[lot].record
            assert set(part.books[lot].entries) == set(full.books[lot].entries)
    # A writer keeps the larger serial, so saying one that is known already does no harm.
    assert part.new_serials.items() >= full.new_serials.items()
    assert all(full.serials[prefix] >= last for prefix, last in part.new_serials.items())


@pytest.mark.parametrize(("seed", "size"), [(3, 1), (4, 1), (5, 20), (6, 20)])
def test_what_is_loaded_is_enough(seed: int, size: int) -> None:
    """Event by event and in batches: same answers, same refusals, same changes as with all.

    Some events must have been refused, or only acceptance was compared.
    """
    assert _tell_in_batches(seed, size)


def test_what_was_not_loaded_is_not_taken_for_nothing() -> None:
    """A rule that asks for what no need names is a fault in the server, and shows at once."""
    world = World()
    with pytest.raises(NotLoadedError):
        world.record("QM26006M00016")
    with pytest.raises(NotLoadedError):
        world.book("QM26006M00016")
    with pytest.raises(NotLoadedError):
        world.facts_under("case:395201200000000374")
