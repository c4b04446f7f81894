"""What an outbox of readings tells about itself."""

from uuid import UUID

from msgspec import Struct

from rindline_schema.answers import Reading
from rindline_schema.problems import Problem

__all__ = ["ReadingOutboxStatus", "ReadingSetAside"]


class ReadingSetAside(Struct, kw_only=True, frozen=True, omit_defaults=True):
    """A reading that the server refused, and why."""

    number: int
    reading: Reading
    problem: Problem


class ReadingOutboxStatus(Struct, kw_only=True, frozen=True):
    """How an outbox of readings is doing.

    ``queued`` readings wait, the first of them for ``oldest_age_s``; ``set_aside`` ones were
    refused and wait for a person. ``paused`` says why nothing is sent though the server answers
    (a key that is not valid); ``last_error`` what went wrong since the last success.
    ``draining``: some process is sending. Times are RFC 3339 texts.
    """

    outbox: UUID
    queued: int
    set_aside: int
    draining: bool
    oldest_age_s: float | None = None
    paused: str | None = None
    last_error: str | None = None
    last_error_at: str | None = None
    last_sent_at: str | None = None
