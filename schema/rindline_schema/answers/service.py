"""Answers about the server itself, and its registers."""

from datetime import datetime
from typing import Literal
from uuid import UUID

from rindline_schema.answers.telling import Answer
from rindline_schema.registers import RegisterEntry

__all__ = ["Health", "RegisterPage", "RegisteredEntry", "Role", "Whoami"]

Role = Literal["station", "manager", "auditor", "customer"]


class Health(Answer, kw_only=True, frozen=True):
    """Whether the server lives, and whether it can serve: ``detail`` says what is amiss."""

    status: Literal["ok", "not_ready"]
    version: str
    detail: str | None = None


class Whoami(Answer, kw_only=True, frozen=True):
    """What the key in the request may do. ``api`` is the newest version of the paths."""

    key: str
    name: str
    role: Role
    site: str | None = None
    partner: str | None = None
    expires_at: datetime | None = None
    api: str = "v1"


class RegisteredEntry(Answer, kw_only=True, frozen=True):
    """A register entry in its newest version, since when, and the event that declared it."""

    code: str
    entry: RegisterEntry
    since: datetime
    event_id: UUID


class RegisterPage(Answer, kw_only=True, frozen=True):
    """The entries of one register, by code."""

    entries: list[RegisteredEntry]
    as_of: int
    next_cursor: str | None = None
