"""What an outbox tells about itself and its events."""

from datetime import date
from typing import Literal
from uuid import UUID

from msgspec import Struct

from rindline_schema.answers import NumberRange, Outcome
from rindline_schema.events import Event
from rindline_schema.problems import Problem

__all__ = ["CodesLeft", "EntryState", "OutboxEntry", "OutboxStatus", "Queued"]

EntryState = Literal["queued", "recorded", "set_aside", "mended"]


class Queued(Struct, kw_only=True, frozen=True):
    """The event is on disk: its id, and its number in this outbox."""

    id: UUID
    number: int


class OutboxEntry(Struct, kw_only=True, frozen=True, omit_defaults=True):
    """An event in the outbox. ``outcome`` is the server's answer, ``problem`` that of a refusal.

    ``mended``: set aside once; the event ``mended_by`` was told in its stead.
    """

    number: int
    id: UUID
    state: EntryState
    event: Event
    outcome: Outcome | None = None
    problem: Problem | None = None
    mended_by: UUID | None = None


class CodesLeft(Struct, kw_only=True, frozen=True):
    """How many reserved codes of a kind and day are not yet stamped."""

    kind: str
    day: date
    left: int
    site: str | None = None


class OutboxStatus(Struct, kw_only=True, frozen=True):
    """How an outbox is doing.

    ``queued`` events wait, the first of them for ``oldest_age_s``; ``set_aside`` ones were
    refused and wait for a person. ``waiting`` lists the numbers of both: those of which the
    server has recorded nothing. ``paused`` says why nothing is sent though the server answers
    (a key that is not valid); ``last_error`` what went wrong since the last success,
    ``codes_error`` why no more lot codes could be reserved.
    ``draining``: some process is sending. Times are RFC 3339 texts.
    """

    outbox: UUID
    queued: int
    set_aside: int
    next_number: int
    waiting: list[NumberRange]
    codes: list[CodesLeft]
    draining: bool
    oldest_age_s: float | None = None
    paused: str | None = None
    last_error: str | None = None
    last_error_at: str | None = None
    last_sent_at: str | None = None
    codes_error: str | None = None
