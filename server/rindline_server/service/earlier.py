"""The record as it stood at an earlier ``seq``, folded again from what had been told by then."""

from collections.abc import Sequence
from typing import NamedTuple

from rindline_server.ledger.apply import Context
from rindline_server.ledger.fold import fold
from rindline_server.ledger.holds import holds_at
from rindline_server.ledger.states import HoldSpan, LotRecord
from rindline_server.ledger.world import Book, World
from rindline_server.store import ReadTransaction

__all__ = ["Earlier", "earlier"]


class Earlier(NamedTuple):
    """Some lots and all they were made of, as far as was known at that ``seq``."""

    world: World
    now_us: int

    def record(self, lot: str) -> LotRecord:
        """Give what was derived of a lot."""
        return self.world.record(lot)

    def holds(self, lot: str) -> list[tuple[str, HoldSpan]]:
        """Give the holds in force on a lot, its own and those spreading to it."""
        return holds_at(self.world, lot, self.now_us)


def earlier(snap: ReadTransaction, ids: Sequence[int], seq: int, context: Context) -> Earlier:
    """Fold these lots and all they were made of, as they stood at ``seq``."""
    reached = snap.reach_as_of(ids, "back", seq)
    codes = snap.lot_codes(list(reached.steps))
    entries = snap.entries_as_of(list(reached.steps), seq)
    world = World()
    for lot in codes.values():
        told = tuple(entries.get(lot, ()))
        world.books[lot] = Book(told, fold(told, context.tolerance))
    parents: dict[str, list[str]] = {}
    for edge in reached.edges():
        parents.setdefault(codes[edge.child_id], []).append(codes[edge.parent_id])
    world.parents = {child: tuple(found) for child, found in parents.items()}
    return Earlier(world, context.now_us)
