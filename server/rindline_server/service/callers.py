"""Who asks: the holder of a key, and what its role may tell."""

from dataclasses import dataclass
from datetime import datetime

from rindline_schema.answers import Role
from rindline_schema.events import Correct, Declare, Event, Release, Settle
from rindline_schema.problems import Problem, make_problem

__all__ = ["Caller", "may_not_tell"]

_MANAGERS_ONLY = (Correct, Declare, Release, Settle)


@dataclass(frozen=True)
class Caller:
    """The holder of a key: ``key`` is its public beginning, never the secret."""

    key: str
    name: str
    role: Role
    site: str | None = None
    partner: str | None = None
    expires_at: datetime | None = None


def may_not_tell(caller: Caller, event: Event) -> Problem | None:
    """Say why this caller may not tell this event (its site filled in), or give None."""
    if caller.role == "manager":
        return None
    if isinstance(event, _MANAGERS_ONLY):
        kind = event.__struct_config__.tag
        return make_problem("forbidden", f"only a manager may tell {kind!r}")
    if caller.site is not None and event.site != caller.site:
        return make_problem(
            "not_your_site", f"this key tells events of {caller.site}, not of {event.site}"
        )
    return None
