"""What the office tells: register entries, and findings about a discrepancy."""

from typing import Annotated

from msgspec import Meta

from rindline_schema.events.base import EventBase
from rindline_schema.quantities import LongText
from rindline_schema.registers import RegisterEntry

__all__ = ["Declare", "Settle"]


class Declare(EventBase, kw_only=True, frozen=True, tag="declare"):
    """A register entry, in force from ``at`` on."""

    entry: RegisterEntry


class Settle(EventBase, kw_only=True, frozen=True, tag="settle"):
    """A person looked into a discrepancy that no correction mends, and says what was found."""

    discrepancy: Annotated[str, Meta(pattern=r"^[0-9a-f]{24}$(?!\n)")]
    finding: LongText
