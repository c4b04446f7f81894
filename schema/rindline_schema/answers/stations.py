"""Stations: what an outbox sends, how each station is doing, and blocks of lot codes."""

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from msgspec import Meta

from rindline_schema.answers.telling import Answer
from rindline_schema.events import Event
from rindline_schema.events.base import Part
from rindline_schema.quantities import SiteCode, Time
from rindline_schema.registers import LotKind

__all__ = [
    "CLOCK_TOLERANCE_MS",
    "MAX_BLOCK_CODES",
    "BlockUse",
    "CodeBlock",
    "CodeBlockPage",
    "CodeBlockRequest",
    "CodeBlockState",
    "NumberRange",
    "OutboxBatch",
    "OutboxItem",
    "OutboxState",
    "StationPage",
    "StationState",
]

CLOCK_TOLERANCE_MS = 120_000
"""How far an event's ``at`` may lie from what its age says before the server corrects it."""

MAX_BLOCK_CODES = 10_000

_Number = Annotated[int, Meta(ge=1, le=2**53)]
_Amount = Annotated[int, Meta(ge=0, le=2**53)]
_Serial = Annotated[int, Meta(ge=1, le=999_999_999)]
# Either way: an event may be told for a moment to come, and clocks may be decades wrong.
_Age = Annotated[int, Meta(ge=-(10**13), le=10**13)]


class OutboxItem(Part, kw_only=True, frozen=True):
    """An event with its number in this outbox, and how long before the sending ``at`` lies.

    ``age_ms`` is measured by the station's steady clock while it stays on, by its wall clock
    from one start of the machine to the next. Where ``at`` and (now minus age) lie more than
    ``CLOCK_TOLERANCE_MS`` apart, the station's clock was wrong: the server records now minus
    age as ``at`` and what the station said as ``station_at``. The age is no part of the event:
    sent again with another age, it is the same event.
    """

    number: _Number
    age_ms: _Age
    event: Event


class BlockUse(Part, kw_only=True, frozen=True):
    """What became of a block so far: serials up to ``stamped_to`` (0: none) are on labels.

    ``spoiled`` are those among them whose label never reached a lot. ``closed``: no more will
    be stamped, so the serials after ``stamped_to`` are unused for good.
    """

    block: UUID
    stamped_to: Annotated[int, Meta(ge=0, le=999_999_999)] = 0
    spoiled: Annotated[list[_Serial], Meta(max_length=MAX_BLOCK_CODES)] = []
    closed: bool = False


class OutboxBatch(Part, kw_only=True, frozen=True):
    """Events of one outbox file in the order of their numbers, and how the station is doing.

    ``outbox`` names the file: numbers count from 1 in each, without a gap, and ``next_number``
    is the next it will give. ``queued`` (these items included) and ``set_aside`` count what the
    file holds unrecorded; ``oldest_age_ms`` is how long the first of the queue has been in it.
    A batch without items says that the station is alive.
    """

    outbox: UUID
    station_clock: Time
    next_number: _Number
    queued: _Amount = 0
    set_aside: _Amount = 0
    oldest_age_ms: _Amount | None = None
    items: Annotated[list[OutboxItem], Meta(max_length=1000)] = []
    blocks: Annotated[list[BlockUse], Meta(max_length=1000)] = []


class NumberRange(Answer, kw_only=True, frozen=True):
    """Numbers from ``first`` to ``last``, both included."""

    first: int
    last: int


class OutboxState(Answer, kw_only=True, frozen=True):
    """An outbox as the server knows it.

    ``missing`` are the numbers below ``next_number`` for which no event came, neither recorded
    nor refused: the first 100 ranges; ``missing_count`` counts all. ``clock_ahead_ms`` is how far
    the station's clock was ahead of the server's when it last spoke (negative: behind).
    """

    outbox: UUID
    last_heard_at: datetime
    next_number: int
    missing: list[NumberRange]
    missing_count: int
    refused_count: int
    clock_ahead_ms: int
    last_number: int | None = None
    queued: int = 0
    set_aside: int = 0
    oldest_age_ms: int | None = None


class StationState(Answer, kw_only=True, frozen=True):
    """A station's key and its outboxes; ``last_heard_at`` is missing if it never told anything."""

    key: str
    name: str
    site: str | None = None
    last_heard_at: datetime | None = None
    outboxes: list[OutboxState] = []


class StationPage(Answer, kw_only=True, frozen=True):
    """The stations, by the name of their key."""

    stations: list[StationState]
    as_of: int
    next_cursor: str | None = None


class CodeBlockRequest(Part, kw_only=True, frozen=True):
    """Reserve ``count`` usable lot codes of a kind and day; the same id gives the same block.

    ``site`` may be left out by a station whose key belongs to a site.
    """

    id: UUID
    day: date
    kind: LotKind
    count: Annotated[int, Meta(ge=1, le=MAX_BLOCK_CODES)]
    site: SiteCode | None = None


class CodeBlock(Answer, kw_only=True, frozen=True):
    """A reserved block: its codes are those that ``lot_code(prefix, serial)`` gives.

    ``codes`` counts them: serials without a swap-proof code are passed over. Nobody else is
    given a serial from ``first_serial`` to ``last_serial``, both included.
    """

    id: UUID
    site: str
    day: date
    kind: LotKind
    prefix: str
    first_serial: int
    last_serial: int
    codes: int
    reserved_at: datetime


class CodeBlockState(CodeBlock, kw_only=True, frozen=True):
    """A block and what became of its codes; all of them are in one of the counts.

    ``heard``: a recorded event makes a lot of that code. ``unheard``: stamped, but no such event
    came (``unheard_lots``: the first 100). ``spoiled``: stamped, the label was thrown away.
    ``unused``: not stamped as far as the station has said, for good if ``closed``.
    """

    station: str
    stamped: int
    heard: int
    unheard: int
    spoiled: int
    unused: int
    closed: bool = False
    unheard_lots: list[str] = []


class CodeBlockPage(Answer, kw_only=True, frozen=True):
    """The blocks, newest first."""

    blocks: list[CodeBlockState]
    as_of: int
    next_cursor: str | None = None
