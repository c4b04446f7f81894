"""Answers to traces: lots, edges with grams, who holds what; whole or line by line."""

from datetime import datetime
from typing import Literal

from rindline_schema.answers.lots import Holder, LotState
from rindline_schema.answers.telling import Answer
from rindline_schema.registers import LotKind

__all__ = [
    "EdgeLine",
    "EndLine",
    "HeadLine",
    "KindCount",
    "LotLine",
    "TraceAnswer",
    "TraceDirection",
    "TraceLine",
    "TracedEdge",
    "TracedLot",
]

TraceDirection = Literal["back", "forward"]


class TracedLot(Answer, kw_only=True, frozen=True):
    """A lot reached: ``steps`` is its distance from the lot asked about."""

    lot: str
    kind: LotKind
    state: LotState
    steps: int
    product: str | None = None
    made_at: datetime | None = None
    made_g: int = 0
    made_count: int = 0
    held: bool = False
    holders: list[Holder] = []


class TracedEdge(Answer, kw_only=True, frozen=True):
    """So many grams of the parent went into the child."""

    parent: str
    child: str
    mass_g: int


class KindCount(Answer, kw_only=True, frozen=True):
    """How many lots of a kind were reached, the pending among them, and what was made."""

    kind: LotKind
    lots: int
    pending: int = 0
    made_g: int = 0


class TraceAnswer(Answer, kw_only=True, frozen=True):
    """A whole trace from one snapshot; the lot asked about is in it with ``steps`` 0."""

    lot: str
    direction: TraceDirection
    as_of: int
    counts: list[KindCount]
    lots: list[TracedLot]
    edges: list[TracedEdge]


class HeadLine(Answer, kw_only=True, frozen=True, tag_field="line", tag="head"):
    """First line of a streamed trace."""

    lot: str
    direction: TraceDirection
    as_of: int


class LotLine(TracedLot, kw_only=True, frozen=True, tag_field="line", tag="lot"):
    """A lot, as in :class:`TracedLot`."""


class EdgeLine(TracedEdge, kw_only=True, frozen=True, tag_field="line", tag="edge"):
    """An edge, as in :class:`TracedEdge`."""


class EndLine(Answer, kw_only=True, frozen=True, tag_field="line", tag="end"):
    """Last line of a streamed trace: without it, the answer was cut short."""

    lots: int
    edges: int
    counts: list[KindCount]


TraceLine = HeadLine | LotLine | EdgeLine | EndLine
