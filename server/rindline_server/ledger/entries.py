"""What an event leaves in the books: entries in the histories of lots, and edges between lots.

The entries of a lot, as a set, say all that is derived of it (see :mod:`.fold`): so the order in
which events are told cannot matter.
"""

from collections.abc import Iterable
from typing import Literal

from msgspec import Struct

__all__ = ["CLAIMS", "PASSIVE", "TIMELESS", "Edge", "Effects", "Entry", "EntryKind"]

EntryKind = Literal[
    "born",
    "arrive",
    "weigh",
    "move",
    "pack",
    "unpack",
    "tend",
    "iron",
    "result",
    "take",
    "drain",
    "loss",
    "sample",
    "discard",
    "dispatch",
    "finish",
    "hold",
    "release",
    "label",
]

CLAIMS: frozenset[EntryKind] = frozenset(
    {"take", "drain", "loss", "sample", "discard", "dispatch", "pack"}
)
"""Entries that claim some of a lot: refused if the lot has not so much."""

PASSIVE: frozenset[EntryKind] = frozenset({"tend", "iron", "result", "label"})
"""Entries that change no figure: they need not be folded again."""

TIMELESS: frozenset[EntryKind] = frozenset({"hold", "release", "label"})
"""Entries that may come before the lot is made: it can be held, or its label printed, ahead."""


class Entry(Struct, frozen=True, gc=False, kw_only=True, omit_defaults=True):
    """One line in a lot's history.

    ``event`` is the id of the event that says so and ``line`` tells its entries for one lot
    apart. ``mass_g`` or ``count`` of None mean: what follows from the other, or
    all that lies there then. ``document`` is
    the key of a load in transit. ``detail`` holds what its kind needs: the product (born), the
    place in the wheel (take), the reason (hold), the id of the hold (release), the task (tend),
    the kind of document (dispatch).
    """

    lot: str
    event: str
    line: int
    kind: EntryKind
    at_us: int
    site: str
    mass_g: int | None = 0
    count: int | None = 0
    room: str | None = None
    document: str | None = None
    partner: str | None = None
    to_site: str | None = None
    spreads: bool = False
    detail: str | None = None


class Edge(Struct, frozen=True, gc=False, kw_only=True):
    """So many grams of ``parent`` went into ``child``; ``line`` tells an event's edges apart."""

    parent: str
    child: str
    mass_g: int
    event: str
    line: int


class Effects(Struct, frozen=True):
    """All that one event leaves in the books."""

    entries: tuple[Entry, ...] = ()
    edges: tuple[Edge, ...] = ()

    @staticmethod
    def join(parts: Iterable["Effects"]) -> "Effects":
        """Put several together."""
        entries: list[Entry] = []
        edges: list[Edge] = []
        for part in parts:
            entries.extend(part.entries)
            edges.extend(part.edges)
        return Effects(tuple(entries), tuple(edges))
