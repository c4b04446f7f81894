"""What goes into the store and comes out of it.

Ids of events are texts in the usual form with hyphens. Times are microseconds since 1970 UTC,
masses grams.
"""

from collections.abc import Iterator
from typing import Literal, NamedTuple

from msgspec import Struct

from rindline_schema.answers import LotState, Role
from rindline_schema.registers import LotKind
from rindline_server.ledger.states import FoundKind

__all__ = [
    "HOLDER_SORTS",
    "LOT_KINDS",
    "LOT_STATES",
    "AncestorRow",
    "BalanceRow",
    "DiscrepancyRow",
    "DrillRow",
    "EdgeRow",
    "Head",
    "HoldingRow",
    "KeyRow",
    "Known",
    "LedgerRow",
    "LotFilter",
    "LotRow",
    "Origin",
    "Reached",
    "RecordedRow",
    "SendingRow",
    "TraceRow",
]

HolderSort = Literal["site", "transit", "partner"]

LOT_KINDS: tuple[LotKind, ...] = ("milk", "ingredient", "make", "wheel", "portion", "trim", "blend")
"""The kinds of lots; a row holds the position in this list. Only ever add at the end."""

LOT_STATES: tuple[LotState, ...] = ("pending", "on_hand", "in_transit", "with_partners", "used_up")
"""The states of lots; a row holds the position in this list. Only ever add at the end."""

HOLDER_SORTS: tuple[HolderSort, ...] = ("site", "transit", "partner")
"""The sorts of holders; a row holds the position in this list. Only ever add at the end."""


class Head(NamedTuple):
    """The end of the ledger: its last ``seq`` (0 if empty) and that row's 32-byte hash."""

    seq: int
    hash: bytes


class Known(NamedTuple):
    """What was answered when an id was told before.

    If ``is_replacement``, the id was told inside a correction, and hash and answer are the
    correction's.
    """

    seq: int
    told_hash: bytes
    answer: bytes
    is_replacement: bool


class LedgerRow(NamedTuple):
    """An event as it goes into the ledger; its hash is the store's to give.

    ``seq`` goes on from the head without a gap. ``told_hash``: 32 bytes over what the station
    told. ``body``: the completed event as JSON. ``answer``: what was answered, as JSON.
    """

    seq: int
    id: str
    replacement_id: str | None
    station: str
    recorded_us: int
    told_hash: bytes
    body: bytes
    answer: bytes


class RecordedRow(NamedTuple):
    """An event as it stands in the ledger; ``voided_by`` is the id of the correction.

    If the id asked for was told inside a correction (``is_replacement``), ``body`` is the whole
    correction.
    """

    seq: int
    id: str
    station: str
    recorded_us: int
    body: bytes
    hash: bytes
    voided_by: str | None
    is_replacement: bool = False


class LotRow(NamedTuple):
    """A lot as derived. ``ours_g``: at our sites and in transit.

    ``born_seq`` is the ``seq`` of the event that made it; ``supplier`` a partner's code, if it
    was received. ``held``: 0 no, 1 by a hold of its own, 2 by one that spreads.
    """

    id: int
    code: str
    kind: int
    site: str
    product: str | None
    supplier: str | None
    state: int
    held: int
    born_us: int | None
    born_seq: int | None
    made_g: int
    made_count: int
    ours_g: int
    ours_count: int
    into_g: int
    ripening_g: int
    drained_g: int
    cutting_g: int
    samples_g: int
    discarded_g: int
    unaccounted_g: int


class LotFilter(Struct, frozen=True, kw_only=True):
    """Which lots; every condition left out is no condition. ``made_from_us`` is inclusive."""

    kind: str | None = None
    product: str | None = None
    site: str | None = None
    state: str | None = None
    held: bool | None = None
    made_from_us: int | None = None
    made_before_us: int | None = None
    prefix: str | None = None


# A field called "count" takes the place of a method that tuples have and nobody asks of a row.


class HoldingRow(NamedTuple):
    """Who holds how much of a lot; ``sort`` is a position in ``HOLDER_SORTS``."""

    lot_id: int
    sort: int
    holder: str
    room: str | None
    to_site: str | None
    mass_g: int
    count: int  # type: ignore[assignment]


class TraceRow(NamedTuple):
    """A lot that was reached, with one of its holders; a lot with several has a row for each.

    Rows of one lot follow one another. A lot nobody holds anything of has one row whose
    ``sort`` is None.
    """

    id: int
    code: str
    kind: int
    state: int
    held: int
    product: str | None
    born_us: int | None
    made_g: int
    made_count: int
    sort: int | None
    holder: str | None
    room: str | None
    to_site: str | None
    mass_g: int | None
    count: int | None  # type: ignore[assignment]


class EdgeRow(NamedTuple):
    """So many grams of the parent went into the child, in all."""

    parent_id: int
    child_id: int
    mass_g: int


class Reached(NamedTuple):
    """The lots reached by a trace, and the edges between them; both nearest first.

    ``steps`` is by lot id, in order of steps then id. ``grams`` is what of a parent went into a
    child in all, by their ids (parent, child). Plain figures, since there may be very many.
    """

    steps: dict[int, int]
    grams: dict[tuple[int, int], int]

    def edges(self) -> Iterator[EdgeRow]:
        """Give the edges."""
        return (EdgeRow(*pair, mass_g) for pair, mass_g in self.grams.items())


class AncestorRow(NamedTuple):
    """A lot on the way back from another (or that lot itself, with ``steps`` 0)."""

    id: int
    steps: int
    code: str
    kind: int
    state: int
    held: int
    site: str
    product: str | None
    supplier: str | None
    born_us: int | None
    made_g: int


class Origin(NamedTuple):
    """A lot, all it was made of, and the bodies of the events that made the makes among them.

    ``lots`` begins with the lot asked about and goes by ``steps``; ``makes`` has the body of the
    event (perhaps a correction) by the id of the make. ``may_be_held`` is False if the lot is
    certainly not held: it has no hold of its own, and none that spreads is in force anywhere.
    All of it holds for ``as_of``, with the registers as they stood at ``register_seq``.
    """

    lots: list[AncestorRow]
    edges: list[EdgeRow]
    makes: dict[int, bytes]
    may_be_held: bool
    as_of: int
    register_seq: int

    @property
    def lot(self) -> AncestorRow:
        """The lot asked about."""
        return self.lots[0]


class BalanceRow(NamedTuple):
    """Sums over lots of one kind; masses as in ``LotRow``, ``pending`` a number of lots."""

    kind: int
    lots: int
    pending: int
    made_g: int
    into_g: int
    ripening_g: int
    drained_g: int
    cutting_g: int
    samples_g: int
    discarded_g: int
    unaccounted_g: int


class SendingRow(NamedTuple):
    """What of a lot left for a partner with one document, whatever came back of it since."""

    lot_id: int
    event: str
    document: str
    document_kind: str
    at_us: int
    mass_g: int
    count: int  # type: ignore[assignment]
    partner: str


class DiscrepancyRow(NamedTuple):
    """A discrepancy; ``finding`` is what the newest finding in force says, if there is one."""

    id: str
    kind: FoundKind
    lot: str
    event: str
    grams: int
    sure: bool
    finding: str | None


class KeyRow(NamedTuple):
    """A key: its public prefix, SHA-256 of its secret, and what it may do."""

    prefix: str
    secret_hash: bytes
    name: str
    role: Role
    site: str | None
    partner: str | None
    created_us: int
    expires_us: int | None
    revoked_us: int | None


class DrillRow(NamedTuple):
    """A drill that was run; ``request`` and ``answer`` are JSON."""

    id: str
    asked_us: int
    asked_by: str
    as_of: int
    request: bytes
    answer: bytes
