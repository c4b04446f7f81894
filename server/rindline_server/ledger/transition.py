"""From events put out of force and into force to what changes in the books.

Events act on one another through links: what a dispatch of a case does to lots depends on what
was packed in it, perhaps told later. So when facts under a link change, what every fact under it
leaves in the books is worked out before and after, and only the difference is written.
"""

from collections.abc import Sequence

from msgspec.structs import replace

from rindline_schema.events import Fact
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.entries import PASSIVE, TIMELESS, Edge, Effects, Entry
from rindline_server.ledger.fold import fold
from rindline_server.ledger.rules import linked_effects, links_of, own_effects
from rindline_server.ledger.states import Found, LotRecord
from rindline_server.ledger.world import Book, World

__all__ = ["Transition", "transition"]


class Transition:
    """What changes: entries and edges gone and new, and each touched lot's book afterwards."""

    def __init__(self, removed: Sequence[Fact], added: Sequence[Fact]) -> None:
        """Start with the facts put out of force and into force."""
        self.removed = tuple(removed)
        self.added = tuple(added)
        self.gone_entries: list[Entry] = []
        self.new_entries: list[Entry] = []
        self.gone_edges: list[Edge] = []
        self.new_edges: list[Edge] = []
        self.links: dict[str, tuple[Fact, ...]] = {}
        self.come: dict[str, list[Entry]] = {}
        self.before: dict[str, LotRecord] = {}
        self.books: dict[str, Book] = {}

    @property
    def lots(self) -> tuple[str, ...]:
        """The lots whose books change, in order of first mention."""
        return tuple(self.books)

    def new_of(self, lot: str) -> list[Entry]:
        """Give the new entries of one lot."""
        return self.come.get(lot, [])

    def commit(self, world: World) -> None:
        """Put the change into the world, and on its lists of what must be written."""
        for lot, book in self.books.items():
            world.touched.setdefault(lot, self.before[lot])
            world.books[lot] = book
        world.new_entries.extend(self.new_entries)
        world.void_entries.extend(self.gone_entries)
        world.new_edges.extend(self.new_edges)
        world.void_edges.extend(self.gone_edges)
        for edge in self.gone_edges:
            parents = list(world.parents.get(edge.child, ()))
            if edge.parent in parents:
                parents.remove(edge.parent)
            world.parents[edge.child] = tuple(parents)
        for edge in self.new_edges:
            world.parents[edge.child] = (*world.parents.get(edge.child, ()), edge.parent)
        world.links.update(self.links)
        for fact in self.added:
            world.new_links.extend((key, str(fact.id)) for key in links_of(fact))


def _under_links(
    world: World, removed: Sequence[Fact], added: Sequence[Fact], change: Transition
) -> tuple[list[Effects], list[Effects]]:
    keys = dict.fromkeys(key for fact in (*removed, *added) for key in links_of(fact))
    gone = {fact.id for fact in removed}
    before: list[Effects] = []
    after: list[Effects] = []
    for key in keys:
        old = world.facts_under(key)
        new = [fact for fact in old if fact.id not in gone]
        new += [fact for fact in added if key in links_of(fact)]
        new.sort(key=lambda fact: (fact.at, fact.id))
        before += [linked_effects(fact, key, old) for fact in old]
        after += [linked_effects(fact, key, new) for fact in new]
        change.links[key] = tuple(new)
    return before, after


def transition(
    world: World, removed: Sequence[Fact], added: Sequence[Fact], tolerance: ScaleTolerance
) -> Transition:
    """Work out what changes when some facts go out of force and others come into force."""
    change = Transition(removed, added)
    before, after = _under_links(world, removed, added, change)
    old = Effects.join([*(own_effects(fact) for fact in removed), *before])
    new = Effects.join([*(own_effects(fact) for fact in added), *after])
    if old.entries or old.edges:
        was, becomes = set(old.entries), set(new.entries)
        change.gone_entries = [entry for entry in old.entries if entry not in becomes]
        change.new_entries = [entry for entry in new.entries if entry not in was]
        were, become = set(old.edges), set(new.edges)
        change.gone_edges = [edge for edge in old.edges if edge not in become]
        change.new_edges = [edge for edge in new.edges if edge not in were]
    else:
        change.new_entries, change.new_edges = list(new.entries), list(new.edges)
    _fold_books(world, change, tolerance)
    return change


def _fold_books(world: World, change: Transition, tolerance: ScaleTolerance) -> None:
    gone: dict[str, list[Entry]] = {}
    new = change.come
    for entry in change.gone_entries:
        gone.setdefault(entry.lot, []).append(entry)
    for entry in change.new_entries:
        new.setdefault(entry.lot, []).append(entry)
    for lot in dict.fromkeys([*gone, *new]):
        lost, come = gone.get(lot, []), new.get(lot, [])
        change.before[lot] = world.record(lot)
        if not lost and all(entry.kind in PASSIVE for entry in come):
            noted = _noted(world, lot, come)
            if noted is not None:
                change.books[lot] = noted
                continue
        dropped = set(lost)
        entries = tuple(e for e in world.book(lot).entries if e not in dropped) + tuple(come)
        change.books[lot] = Book(entries, fold(entries, tolerance))


def _noted(world: World, lot: str, come: Sequence[Entry]) -> Book | None:
    """Give the book with entries that change no figure, if it need not be folded again for them."""
    book = world.books.get(lot, Book())
    born_us = book.record.born_us
    early = [
        entry
        for entry in come
        if born_us is not None and entry.at_us < born_us and entry.kind not in TIMELESS
    ]
    if book.is_whole:
        return None if early else Book(book.entries + tuple(come), book.record)
    # Not loaded whole: its contradictions are not known either, so these are new ones.
    found = tuple(Found("before_it_existed", e.event, 0, sure=True) for e in early)
    record = replace(book.record, found=book.record.found + found) if early else book.record
    return Book((), record, is_whole=False)
