"""Answers to telling events, and the feed of what was told."""

from datetime import datetime
from typing import Literal
from uuid import UUID

from msgspec import Struct

from rindline_schema.events import Event
from rindline_schema.problems import Problem

__all__ = [
    "BatchAnswer",
    "DryRunAnswer",
    "FeedPage",
    "GivenCode",
    "Outcome",
    "RecordedEvent",
    "Refused",
    "Told",
    "Warned",
]


class Answer(Struct, kw_only=True, frozen=True, omit_defaults=True):
    """A part of an answer. Readers ignore members they do not know."""


class GivenCode(Answer, kw_only=True, frozen=True):
    """A lot code the server gave: where in the event it belongs (JSON Pointer), and the code."""

    pointer: str
    lot: str


class Warned(Answer, kw_only=True, frozen=True):
    """Something a person should look at, though the event is recorded."""

    code: str
    detail: str
    lot: str | None = None


class Told(Answer, kw_only=True, frozen=True, tag_field="outcome", tag="recorded"):
    """The event is on disk under ``seq``. ``replay`` if this id was recorded before."""

    id: UUID
    seq: int
    recorded_at: datetime
    replay: bool = False
    lots: list[GivenCode] = []
    warnings: list[Warned] = []


class Refused(Answer, kw_only=True, frozen=True, tag_field="outcome", tag="refused"):
    """The event is not recorded; the problem says why. ``id`` if one could be read."""

    problem: Problem
    id: str | None = None


Outcome = Told | Refused


class BatchAnswer(Answer, kw_only=True, frozen=True):
    """One outcome for each event, in the order they were sent."""

    outcomes: list[Outcome]
    recorded: int
    refused: int
    replayed: int


class DryRunAnswer(Answer, kw_only=True, frozen=True):
    """What would be answered if the events were told now; nothing is recorded."""

    outcomes: list[Outcome]


class RecordedEvent(Answer, kw_only=True, frozen=True):
    """An event as it stands in the ledger. ``voided_by`` is the correction that voids it."""

    seq: int
    recorded_at: datetime
    station: str
    event: Event
    hash: str
    voided_by: UUID | None = None


class FeedPage(Answer, kw_only=True, frozen=True):
    """Events in ledger order; ask again with ``after`` = ``next_after``."""

    events: list[RecordedEvent]
    next_after: int
    as_of: int
    more: bool
    version: Literal[1] = 1
