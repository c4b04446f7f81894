"""Telling a history to the pure rules, and writing down what comes of it for comparison."""

import random
from collections import Counter
from collections.abc import Iterable
from datetime import datetime, timedelta

import msgspec

from rindline_schema.events import Event
from rindline_schema.problems import Problem
from rindline_server.ledger.apply import Context, RefusalError, apply, replay
from rindline_server.ledger.times import to_us
from rindline_server.ledger.world import World
from tests.histories.dairy import History

__all__ = [
    "Refusals",
    "context",
    "empty_world",
    "record_of",
    "replayed",
    "tell_until_all_stand",
    "told_again",
]

Refusals = list[tuple[Event, Problem]]


def context(until: datetime) -> Context:
    """A server's clock shortly after the last event."""
    return Context(now_us=to_us(until + timedelta(days=1)))


def empty_world() -> World:
    """A record of nothing, known to be all there is."""
    world = World()
    world.is_everything = True
    return world


def tell_until_all_stand(history: History, order: Iterable[Event]) -> tuple[World, Refusals]:
    """Tell events in an order; what is refused is told again after the others, until all stand.

    An id told before is left out, as the caller of the rules does.
    """
    world = empty_world()
    now = context(history.until)
    for declare in history.setup:
        apply(world, declare, now)
    refusals: Refusals = []
    told: set[str] = set()
    ahead = list(order)
    while ahead:
        refused: list[Event] = []
        for event in ahead:
            if str(event.id) in told:
                continue
            try:
                apply(world, event, now)
            except RefusalError as refusal:
                refused.append(event)
                refusals.append((event, refusal.problem))
            else:
                told.add(str(event.id))
        assert len(refused) < len(ahead), [problem for _, problem in refusals[-5:]]
        ahead = refused
    return world, refusals


def replayed(history: History, order: Iterable[Event]) -> World:
    """Fold events as they stand, without judging them."""
    world = empty_world()
    now = context(history.until)
    for event in (*history.setup, *order):
        replay(world, event, now)
    return world


def record_of(world: World) -> bytes:
    """Write down the whole record in a form that does not depend on the order of telling."""

    def in_order(items: Iterable[object]) -> list[bytes]:
        return sorted(msgspec.json.encode(item) for item in items)

    edges = Counter(world.new_edges)
    edges.subtract(Counter(world.void_edges))
    return msgspec.json.encode(
        {
            "books": {
                lot: [in_order(book.entries), book.record]
                for lot, book in sorted(world.books.items())
                if book.entries
            },
            "edges": in_order(edges.elements()),
            "parents": {
                lot: sorted(parents) for lot, parents in sorted(world.parents.items()) if parents
            },
            "registers": [
                [register, code, versions]
                for (register, code), versions in sorted(world.registers.items())
            ],
            "links": {
                key: [fact.id for fact in facts]
                for key, facts in sorted(world.links.items())
                if facts
            },
            "voids": dict(sorted(world.voids.items())),
            "recorded": dict(sorted(world.recorded.items())),
            "findings": sorted(set(world.new_findings)),
            "serials": dict(sorted(world.serials.items())),
        }
    )


def told_again(events: Iterable[Event], seed: int) -> list[Event]:
    """All events in a random order, a fifth of them twice."""
    rng = random.Random(seed)
    order = list(events)
    order += rng.sample(order, len(order) // 5)
    rng.shuffle(order)
    return order
