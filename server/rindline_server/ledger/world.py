"""The part of the record that some events touch, in memory: loaded, judged, written back."""

from collections.abc import Mapping
from uuid import UUID

from msgspec import Struct

from rindline_schema.events import Event, Fact
from rindline_schema.registers import RegisterEntry
from rindline_server.ledger.entries import Edge, Entry
from rindline_server.ledger.states import NOTHING_KNOWN, LotRecord

__all__ = ["Book", "Needs", "NotLoadedError", "Registers", "Step", "Version", "World"]


class NotLoadedError(LookupError):
    """A rule asked for something the loader was not told to load: a fault in the server."""


class Version(Struct, frozen=True, gc=False):
    """One declaration of a register entry, in force from ``at_us`` on."""

    at_us: int
    event: str
    entry: RegisterEntry


Registers = Mapping[tuple[str, str], tuple[Version, ...]]
"""All versions of all register entries by (register, code), in order of (at_us, event)."""


class Book(Struct, frozen=True):
    """A lot's entries and what they say.

    ``is_whole`` is False if of its record only birth and holds were loaded, because nothing that
    needs more will be done with it.
    """

    entries: tuple[Entry, ...] = ()
    record: LotRecord = NOTHING_KNOWN
    is_whole: bool = True


class Needs(Struct, frozen=True):
    """What must be loaded before some events can be judged.

    ``events`` are ids whose recorded event (if any) and corrections must be known; ``links`` are
    keys such as ``case:...`` and ``sample:...``; ``prefixes`` are of lot codes to be given;
    ``discrepancies`` are ids of discrepancies; ``entries_in_use`` are register entries of which
    it must be known whether a lot's entry in force names them: a product by a birth, a room, a
    partner, a site (where it happened, or went to). Lots linked through ``links`` and through the
    recorded events that are being corrected are loaded whole as well.
    """

    whole_lots: frozenset[str] = frozenset()
    born_lots: frozenset[str] = frozenset()
    ancestors_of: frozenset[str] = frozenset()
    events: frozenset[UUID] = frozenset()
    links: frozenset[str] = frozenset()
    prefixes: frozenset[str] = frozenset()
    discrepancies: frozenset[str] = frozenset()
    entries_in_use: frozenset[tuple[str, str]] = frozenset()

    def __or__(self, other: "Needs") -> "Needs":
        """Put the needs of several events together."""
        return Needs(
            *(getattr(self, name) | getattr(other, name) for name in self.__struct_fields__)
        )


class Step(Struct, frozen=True, gc=False):
    """How long each list of what must be written was once an event had been recorded.

    So a writer can tell by which event each line of the lists came about.
    """

    event: str
    new_entries: int
    new_edges: int
    void_entries: int
    void_edges: int
    new_versions: int
    void_versions: int
    new_voids: int
    new_links: int
    new_findings: int
    void_findings: int


class World:
    """Everything the rules may look at and change.

    A loader fills the plain dictionaries; the rules replace values in them and never mutate a
    value, so that a shallow copy (:meth:`fork`) is a safe point to go back to. What must be
    written is kept in the ``new_*`` and ``void_*`` lists and in ``touched`` (the record of each
    lot as it was loaded).
    """

    def __init__(self) -> None:
        """Make an empty world: right for a fold from zero, or to be filled by a loader."""
        self.registers: dict[tuple[str, str], tuple[Version, ...]] = {}
        self.books: dict[str, Book] = {}
        self.parents: dict[str, tuple[str, ...]] = {}
        self.recorded: dict[str, Event] = {}
        self.voids: dict[str, str] = {}
        self.links: dict[str, tuple[Fact, ...]] = {}
        self.serials: dict[str, int] = {}
        self.reserved: dict[str, int] = {}
        self.open_discrepancies: set[str] = set()
        self.in_use: set[tuple[str, str]] = set()
        self.any_spreading_hold = True
        self.is_everything = False
        # What a writer must put on disk, in the order it came about.
        self.touched: dict[str, LotRecord] = {}
        self.new_entries: list[Entry] = []
        self.new_edges: list[Edge] = []
        self.void_entries: list[Entry] = []
        self.void_edges: list[Edge] = []
        self.new_versions: list[tuple[str, str, Version]] = []
        self.void_versions: list[tuple[str, str, Version]] = []
        self.new_voids: list[tuple[str, str]] = []
        self.new_links: list[tuple[str, str]] = []
        self.new_findings: list[tuple[str, str, str]] = []
        self.void_findings: list[tuple[str, str]] = []
        self.new_serials: dict[str, int] = {}
        self.steps: list[Step] = []

    def end_step(self, event: str) -> None:
        """Note that all on the lists up to here came about by this event and those before it."""
        lengths = (len(getattr(self, name)) for name in Step.__struct_fields__[1:])
        self.steps.append(Step(event, *lengths))

    def fork(self) -> "World":
        """Give a copy that can be changed without changing this one."""
        copy = World()
        for name, value in vars(self).items():
            setattr(copy, name, value if isinstance(value, bool) else value.copy())
        return copy

    def taken_serials(self) -> dict[str, int]:
        """Give the last serial under each prefix that is seen, or reserved by a station."""
        taken = dict(self.serials)
        for prefix, serial in self.reserved.items():
            taken[prefix] = max(serial, taken.get(prefix, 0))
        return taken

    def book(self, lot: str) -> Book:
        """Give a lot's whole book; a lot nobody mentioned yet has an empty one."""
        book = self.books.get(lot)
        if book is None:
            if not self.is_everything:
                raise NotLoadedError(lot)
            return Book()
        if not book.is_whole:
            raise NotLoadedError(lot)
        return book

    def record(self, lot: str) -> LotRecord:
        """Give what is derived of a lot; of a book not loaded whole: birth and holds only."""
        book = self.books.get(lot)
        if book is None:
            if not self.is_everything:
                raise NotLoadedError(lot)
            return NOTHING_KNOWN
        return book.record

    def facts_under(self, key: str) -> tuple[Fact, ...]:
        """Give the facts that act on one another through a key, in order of time."""
        facts = self.links.get(key)
        if facts is None:
            if not self.is_everything:
                raise NotLoadedError(key)
            return ()
        return facts
