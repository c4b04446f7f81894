"""A loader that gives the rules no more than they say they need: the store's, without a store."""

from collections.abc import Iterable, Iterator, Sequence

from rindline_schema.events import Correct, Event, Fact
from rindline_server.ledger.discrepancies import discrepancy_id
from rindline_server.ledger.needs import may_spread_hold, needs_of, needs_of_linked
from rindline_server.ledger.office import is_in_use
from rindline_server.ledger.states import LotRecord
from rindline_server.ledger.world import Book, Needs, World

__all__ = ["part_of"]


def part_of(full: World, events: Sequence[Event]) -> World:
    """Give a world that holds only what these events need of another that holds everything."""
    corrects = any(isinstance(event, Correct) for event in events)
    needs = _joined(needs_of(event) for event in events)
    part = World()
    part.registers = dict(full.registers)
    ids = {str(event_id) for event_id in needs.events}
    part.recorded = {key: full.recorded[key] for key in sorted(ids & full.recorded.keys())}
    targets = [
        part.recorded[str(event.event)]
        for event in events
        if isinstance(event, Correct) and str(event.event) in part.recorded
    ]
    needs = _joined([needs, *(needs_of(target) for target in targets)])
    ids = {str(event_id) for event_id in needs.events}
    part.voids = {key: full.voids[key] for key in sorted(ids & full.voids.keys())}
    part.links = {key: full.links.get(key, ()) for key in needs.links}
    needs = _joined([needs, *(needs_of_linked(facts) for facts in part.links.values())])
    _fill_books(full, part, needs, corrects=corrects)
    part.serials = {p: full.serials[p] for p in needs.prefixes if p in full.serials}
    part.open_discrepancies = {
        name
        for lot, book in full.books.items()
        for found in book.record.found
        if (name := discrepancy_id(lot, found)) in needs.discrepancies
    }
    part.in_use = {entry for entry in needs.entries_in_use if is_in_use(full, *entry)}
    part.any_spreading_hold = any(
        may_spread_hold(fact) for fact in _facts([*events, *targets], part)
    ) or any(span.spreads for book in full.books.values() for span in book.record.holds)
    if part.any_spreading_hold:
        _fill_ancestors(full, part, needs.ancestors_of)
    return part


def _facts(events: Iterable[Event], part: World) -> Iterator[Fact]:
    """Give all facts that these events put in force, out of force, or meet."""
    for event in events:
        if not isinstance(event, Correct):
            yield event
        elif event.replacement is not None:
            yield event.replacement
    for facts in part.links.values():
        yield from facts


def _joined(parts: Iterable[Needs]) -> Needs:
    whole = Needs()
    for part in parts:
        whole |= part
    return whole


def _fill_books(full: World, part: World, needs: Needs, *, corrects: bool) -> None:
    for lot in needs.whole_lots | needs.born_lots:
        book = full.books.get(lot, Book())
        # A correction may take out of a book what does not count, too.
        is_whole = lot in needs.whole_lots or corrects or not book.record.is_born
        part.books[lot] = book if is_whole else _light(book)


def _light(book: Book) -> Book:
    record = book.record
    kept = LotRecord(born_us=record.born_us, holds=record.holds, cleared_us=record.cleared_us)
    return Book((), kept, is_whole=False)


def _fill_ancestors(full: World, part: World, lots: Iterable[str]) -> None:
    ahead = list(lots)
    while ahead:
        lot = ahead.pop()
        if lot in part.parents:
            continue
        part.parents[lot] = full.parents.get(lot, ())
        if lot not in part.books:
            part.books[lot] = _light(full.books.get(lot, Book()))
        ahead.extend(part.parents[lot])
