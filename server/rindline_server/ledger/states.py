"""What is derived of a lot by folding its entries."""

from typing import Literal

from msgspec import Struct

from rindline_schema.answers.lots import LotState

__all__ = [
    "NOTHING_KNOWN",
    "Found",
    "FoundKind",
    "HoldSpan",
    "Holding",
    "LotRecord",
    "Sent",
    "Stay",
]

FoundKind = Literal[
    "not_enough",
    "before_it_existed",
    "places_overlap",
    "not_here",
    "heavier_than_before",
    "arrival_differs",
    "dispatch_not_told",
    "returned_more",
    "packed_twice",
    "not_packed",
]


class Holding(Struct, frozen=True, gc=False):
    """Who holds how much of a lot; ``room`` is of a site, ``to_site`` of a load in transit."""

    where: Literal["site", "transit", "partner"]
    holder: str
    mass_g: int
    count: int
    room: str | None = None
    to_site: str | None = None


class Stay(Struct, frozen=True, gc=False):
    """A lot's time in a room: from, and until unless it is still there (microseconds, UTC)."""

    site: str
    room: str | None
    from_us: int
    until_us: int | None


class Sent(Struct, frozen=True, gc=False):
    """What left with one document: to a partner, or to another site of ours."""

    event: str
    document: str
    document_kind: str
    at_us: int
    mass_g: int
    count: int
    partner: str | None = None
    to_site: str | None = None


class HoldSpan(Struct, frozen=True, gc=False):
    """A hold put on the lot itself, since when, and until when if released.

    A span that ends when it begins says that this hold, put on an ancestor, was lifted then for
    the lot and all made of it.
    """

    event: str
    since_us: int
    until_us: int | None
    spreads: bool
    reason: str


class Found(Struct, frozen=True, gc=False):
    """Something that does not fit together.

    ``sure`` if no fact still to come could explain it: then an event that would bring it about
    is refused. The others stand as discrepancies until the missing fact comes.
    """

    kind: FoundKind
    event: str
    grams: int
    sure: bool


class LotRecord(Struct, frozen=True):
    """All that the entries of a lot say; times in microseconds since 1970, masses in grams.

    Once born, ``made_g`` equals the holdings of sites, transit and partners, plus ``into_g``,
    ``ripening_g``, ``drained_g``, ``cutting_g``, ``samples_g``, ``discarded_g`` and
    ``unaccounted_g``, to the gram.
    """

    state: LotState = "pending"
    product: str | None = None
    born_us: int | None = None
    made_g: int = 0
    made_count: int = 0
    holdings: tuple[Holding, ...] = ()
    into_g: int = 0
    ripening_g: int = 0
    drained_g: int = 0
    cutting_g: int = 0
    samples_g: int = 0
    discarded_g: int = 0
    unaccounted_g: int = 0
    stays: tuple[Stay, ...] = ()
    sent: tuple[Sent, ...] = ()
    holds: tuple[HoldSpan, ...] = ()
    cleared_us: tuple[int, ...] = ()
    found: tuple[Found, ...] = ()

    @property
    def is_born(self) -> bool:
        """Whether the event that makes this lot is known."""
        return self.born_us is not None

    @property
    def hold_flag(self) -> int:
        """0 not held, 1 held by itself, 2 held and spreading to all made of it."""
        open_spans = [span for span in self.holds if span.until_us is None]
        return 2 if any(s.spreads for s in open_spans) else int(bool(open_spans))


NOTHING_KNOWN = LotRecord()
"""The record of a lot of which only the code is known."""
