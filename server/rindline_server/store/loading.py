"""Loading the part of the record that some events touch, in few statements."""

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple
from uuid import UUID

import msgspec

from rindline_schema.events import Correct, Event, Fact
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.entries import Entry
from rindline_server.ledger.fold import fold
from rindline_server.ledger.needs import may_spread_hold, needs_of, needs_of_linked
from rindline_server.ledger.rules import links_of
from rindline_server.ledger.states import LotRecord
from rindline_server.ledger.times import to_us
from rindline_server.ledger.world import Book, Needs, Registers, World
from rindline_server.store.entry_rows import ENTRY_COLUMNS, PASSIVE_NUMBERS, entry_of
from rindline_server.store.holds import load_holds, load_parents, spreading_hold_between
from rindline_server.store.ids import id_text
from rindline_server.store.link import Link
from rindline_server.store.record_rows import Birth
from rindline_server.store.rows import LOT_STATES
from rindline_server.store.stations import reserved

__all__ = ["Loaded", "LotHeader", "load", "load_holds_world"]

_EVENT: msgspec.json.Decoder[Event] = msgspec.json.Decoder(Event)


class LotHeader(NamedTuple):
    """The part of a lot's row that the rules and the writer look at."""

    id: int
    code: str
    state: int
    product: str | None
    born_us: int | None
    birth: Birth


class Loaded(NamedTuple):
    """The world, and the rows its known lots have."""

    world: World
    headers: dict[str, LotHeader]


class _Facts(NamedTuple):
    """What the events and those they hang together with are."""

    events: Sequence[Event]
    corrected: dict[str, Event]
    linked: dict[str, tuple[Fact, ...]]

    def facts(self) -> Iterable[Fact]:
        """All facts that these events put in force, out of force, or meet."""
        for event in (*self.events, *self.corrected.values()):
            if not isinstance(event, Correct):
                yield event
            elif event.replacement is not None:
                yield event.replacement
        for facts in self.linked.values():
            yield from facts


def load(
    link: Link, events: Sequence[Event], registers: Registers, tolerance: ScaleTolerance, seq: int
) -> Loaded:
    """Load what judging these events needs, of a ledger that ends at ``seq``."""
    world = World()
    world.registers = dict(registers)
    needs = _joined(needs_of(event) for event in events)
    own = {event.id for event in events}
    world.recorded = _recorded(link, needs.events - own, seq)
    targets = {str(event.event) for event in events if isinstance(event, Correct)}
    corrected = {key: event for key, event in world.recorded.items() if key in targets}
    needs = _joined([needs, *(needs_of(event) for event in corrected.values())])
    world.voids = _voids(link, needs.events)
    world.links = _linked(link, needs.links)
    facts = _Facts(events, corrected, world.links)
    # What these events put under a link may be reached by one another as well.
    under_links = [fact for fact in facts.facts() if links_of(fact)]
    needs = _joined([needs, needs_of_linked(under_links)])
    headers = load_headers(link, {*needs.whole_lots, *needs.born_lots, *needs.ancestors_of})
    _fill_books(link, world, headers, needs, facts, tolerance)
    _fill_ancestors(link, world, headers, needs, facts)
    world.serials = dict(
        link.rows(
            "SELECT prefix, last FROM serials WHERE prefix {any_text}",
            [link.many(sorted(needs.prefixes))],
        )
        if needs.prefixes
        else ()
    )
    if needs.prefixes:
        world.reserved = reserved(link, sorted(needs.prefixes))
    world.open_discrepancies = _existing(link, needs.discrepancies)
    corrects = any(isinstance(event, Correct) for event in events)
    world.in_use = {
        (register, code)
        for register, code in needs.entries_in_use
        # What was never declared before is in no use.
        if (register, code) in registers and _is_in_use(link, register, code, corrects=corrects)
    }
    return Loaded(world, headers)


def _joined(parts: Iterable[Needs]) -> Needs:
    """Put needs together; adding them one by one would copy them over and over."""
    all_parts = list(parts)
    return Needs(
        *(
            frozenset().union(*(getattr(part, name) for part in all_parts))
            for name in Needs.__struct_fields__
        )
    )


# --- the ledger ---------------------------------------------------------------------------------


def _recorded(link: Link, ids: Iterable[UUID], seq: int) -> dict[str, Event]:
    """Give the recorded events with these ids, also those told inside a correction."""
    wanted = [event_id.bytes for event_id in ids]
    found: dict[str, Event] = {}
    for column in ("id", "replacement_id"):
        rows = link.rows_for_ids(
            f"SELECT seq, {column}, body FROM ledger WHERE {column} {{any_id}}", wanted
        )
        for row_seq, event_id, body in rows:
            event = _EVENT.decode(body)
            if row_seq > seq:
                continue
            if column == "replacement_id":
                assert isinstance(event, Correct)
                assert event.replacement is not None
                event = event.replacement
            found[id_text(event_id)] = event
    return found


def _voids(link: Link, ids: Iterable[UUID]) -> dict[str, str]:
    rows = link.rows_for_ids(
        "SELECT target, correction FROM voids WHERE target {any_id}",
        [event_id.bytes for event_id in ids],
    )
    return {id_text(target): id_text(correction) for target, correction in rows}


def _linked(link: Link, keys: Iterable[str]) -> dict[str, tuple[Fact, ...]]:
    """Give the facts in force under each key, in order of time."""
    found: dict[str, list[Fact]] = {key: [] for key in sorted(keys)}
    if not found:
        return {}
    rows = link.rows(
        "SELECT k.key, l.body FROM links k JOIN ledger l ON l.seq = k.seq "
        "WHERE k.key {any_text} "
        "AND NOT EXISTS (SELECT 1 FROM voids v WHERE v.target = k.event)",
        [link.many(list(found))],
    )
    for key, body in rows:
        event = _EVENT.decode(body)
        fact = event.replacement if isinstance(event, Correct) else event
        assert fact is not None
        found[key].append(fact)
    return {
        key: tuple(sorted(facts, key=lambda fact: (fact.at, fact.id)))
        for key, facts in found.items()
    }


# --- lots ---------------------------------------------------------------------------------------


_HEADER_COLUMNS = "id, code, state, product, born_us, born_seq, supplier"


def _header(row: tuple[Any, ...]) -> LotHeader:
    lot_id, code, state, product, born_us, born_seq, supplier = row
    return LotHeader(lot_id, code, state, product, born_us, Birth(born_seq, supplier))


def load_headers(link: Link, codes: Iterable[str]) -> dict[str, LotHeader]:
    """Give the headers of the lots among these that were ever mentioned."""
    wanted = sorted(codes)
    if not wanted:
        return {}
    rows = link.rows(
        f"SELECT {_HEADER_COLUMNS} FROM lots WHERE code {{any_text}}",
        [link.many(wanted)],
    )
    return {row[1]: _header(row) for row in rows}


def _fill_books(
    link: Link,
    world: World,
    headers: dict[str, LotHeader],
    needs: Needs,
    facts: _Facts,
    tolerance: ScaleTolerance,
) -> None:
    corrects = any(isinstance(event, Correct) for event in facts.events)
    whole: dict[int, LotHeader] = {}
    light: dict[int, LotHeader] = {}
    for code in sorted(needs.whole_lots | needs.born_lots):
        header = headers.get(code)
        if header is None:
            world.books[code] = Book()
        elif (
            code in needs.whole_lots
            # What a correction takes out of a book must be in it.
            or corrects
            or header.born_us is None
        ):
            whole[header.id] = header
        else:
            light[header.id] = header
    entries = _entries(link, whole, with_passive=corrects)
    for lot_id, header in whole.items():
        book = tuple(entries.get(lot_id, ()))
        world.books[header.code] = Book(book, fold(book, tolerance))
    _fill_light_books(link, world, light)


def _entries(
    link: Link, lots: dict[int, LotHeader], *, with_passive: bool
) -> dict[int, list[Entry]]:
    """Give the entries in force of lots.

    Of a lot that is made, those that change no figure are left out if nothing can ask for them:
    the making stands unless something is corrected.
    """
    if not lots:
        return {}
    statement = (
        f"SELECT e.lot_id, {ENTRY_COLUMNS} FROM lots l JOIN entries e ON e.lot_id = l.id "
        "WHERE l.id {any_big} AND e.void_seq IS NULL"
    )
    if not with_passive:
        statement += (
            f" AND (e.kind NOT IN ({PASSIVE_NUMBERS}) OR l.born_us IS NULL OR e.at_us < l.born_us)"
        )
    found: dict[int, list[Entry]] = {}
    for row in link.rows(statement, [link.many(sorted(lots))]):
        found.setdefault(row[0], []).append(entry_of(lots[row[0]].code, row[1:]))
    return found


def _fill_light_books(link: Link, world: World, lots: dict[int, LotHeader]) -> None:
    spans, clears = load_holds(link, list(lots))
    for lot_id, header in lots.items():
        record = LotRecord(
            state=LOT_STATES[header.state],
            product=header.product,
            born_us=header.born_us,
            holds=tuple(spans.get(lot_id, ())),
            cleared_us=tuple(clears.get(lot_id, ())),
        )
        world.books[header.code] = Book((), record, is_whole=False)


# --- holds that spread --------------------------------------------------------------------------


def _fill_ancestors(
    link: Link, world: World, headers: dict[str, LotHeader], needs: Needs, facts: _Facts
) -> None:
    """Load parents and holds of all ancestors, if any hold could come down to these lots."""
    times = [to_us(fact.at) for fact in facts.facts()]
    world.any_spreading_hold = any(may_spread_hold(fact) for fact in facts.facts()) or (
        # A correction may bring a hold back that was lifted: then none is too old.
        bool(times)
        and spreading_hold_between(
            link,
            min(times),
            max(times),
            ever=any(isinstance(event, Correct) for event in facts.events),
        )
    )
    if world.any_spreading_hold:
        start = [headers[code] for code in needs.ancestors_of if code in headers]
        _load_ancestors(link, world, headers, start)


def _load_ancestors(
    link: Link, world: World, headers: dict[str, LotHeader], start: Iterable[LotHeader]
) -> None:
    """Load the parents of these lots and of all on the way up, and light books of the rest."""
    known = {header.id: code for code, header in headers.items()}
    pairs = load_parents(link, [header.id for header in start])
    others = _headers_by_id(link, {lot for pair in pairs for lot in pair if lot not in known})
    known.update((lot_id, header.code) for lot_id, header in others.items())
    _fill_light_books(link, world, others)
    parents: dict[str, list[str]] = {}
    for child, parent in pairs:
        parents.setdefault(known[child], []).append(known[parent])
    world.parents = {child: tuple(some) for child, some in parents.items()}


def load_holds_world(link: Link, codes: Iterable[str]) -> World:
    """Load what ``ledger.holds.holds_at`` needs for these lots: light books and parents."""
    world = World()
    wanted = set(codes)
    headers = load_headers(link, wanted)
    world.books = {code: Book() for code in wanted if code not in headers}
    _fill_light_books(link, world, {header.id: header for header in headers.values()})
    world.any_spreading_hold = spreading_hold_between(link, 0, 0, ever=True)
    if world.any_spreading_hold:
        _load_ancestors(link, world, headers, headers.values())
    return world


def _headers_by_id(link: Link, ids: Iterable[int]) -> dict[int, LotHeader]:
    wanted = sorted(ids)
    if not wanted:
        return {}
    rows = link.rows(
        "SELECT id, code, state, product, born_us, born_seq, supplier FROM lots WHERE id {any_big}",
        [link.many(wanted)],
    )
    return {row[0]: _header(row) for row in rows}


# --- the rest -----------------------------------------------------------------------------------


def _existing(link: Link, discrepancies: Iterable[str]) -> set[str]:
    wanted = sorted(discrepancies)
    if not wanted:
        return set()
    rows = link.rows("SELECT id FROM discrepancies WHERE id {any_text}", [link.many(wanted)])
    return {row[0] for row in rows}


def _is_in_use(link: Link, register: str, code: str, *, corrects: bool) -> bool:
    """Tell whether an entry in force names a register entry.

    Of partners and sites this is only asked when a declaration is taken back, which is so seldom
    that it needs no index.
    """
    conditions = {
        "product": "lots WHERE product = ?",
        # An entry that names a room makes a stay there.
        "room": "stays WHERE room = ?",
    }
    if corrects:
        conditions["partner"] = "entries WHERE partner = ? AND void_seq IS NULL"
        conditions["site"] = "entries WHERE ? IN (site, to_site) AND void_seq IS NULL"
    condition = conditions.get(register)
    if condition is None:
        return False
    return link.row(f"SELECT 1 FROM {condition} LIMIT 1", [code]) is not None
