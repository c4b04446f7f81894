"""Random histories of a dairy that could have happened, the same for the same seed."""

from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from rindline_schema.events import Declare, Event
from tests.histories import cutting, making, safety, shipping
from tests.histories.registers import declarations
from tests.histories.simulation import Action, Simulation

__all__ = ["History", "random_history"]

_ACTIONS: dict[Action, int] = {
    making.receive_milk: 5,
    making.receive_ingredient: 2,
    making.make: 4,
    making.hoop: 6,
    making.move: 4,
    making.tend: 4,
    making.iron: 3,
    making.weigh: 8,
    cutting.cut_wheel: 14,
    cutting.cut_smaller: 4,
    cutting.blend: 4,
    shipping.pack: 10,
    shipping.unpack: 4,
    shipping.dispatch: 8,
    shipping.arrive: 9,
    shipping.sell: 8,
    shipping.sell_and_undo: 1,
    shipping.give_back: 3,
    safety.sample: 4,
    safety.result: 3,
    safety.hold: 2,
    safety.release: 2,
    safety.discard: 2,
    safety.clean: 1,
    safety.settle: 2,
}


class History(NamedTuple):
    """What the office declares first, and then all that happens, in order of telling.

    ``doubtful`` are lots about which something mistaken is told, and corrected later.
    """

    setup: tuple[Declare, ...]
    events: tuple[Event, ...]
    doubtful: frozenset[str]
    until: datetime


@lru_cache(maxsize=32)
def random_history(seed: int, events: int) -> History:
    """Make a history of at least so many events, declarations not counted."""
    sim = Simulation(seed)
    making.receive_milk(sim)
    making.receive_ingredient(sim)
    while len(sim.events) < events:
        sim.pass_time()
        if sim.pending_corrections and sim.random.random() < 0.15:
            sim.pending_corrections.pop(0)()
            continue
        action = sim.random.choices(list(_ACTIONS), list(_ACTIONS.values()))[0]
        action(sim)
    while sim.pending_corrections:
        sim.pass_time()
        sim.pending_corrections.pop(0)()
    return History(tuple(declarations()), tuple(sim.events), frozenset(sim.doubtful), sim.now)
