"""Corrections: nothing is changed or deleted, a later event says what was wrong."""

from uuid import UUID

from rindline_schema.events.base import EventBase
from rindline_schema.events.cutting import Blend, Cut
from rindline_schema.events.labels import Label
from rindline_schema.events.milk import Make, Receive
from rindline_schema.events.office import Declare, Settle
from rindline_schema.events.safety import Clean, Discard, Hold, Release, Result, Sample
from rindline_schema.events.shipping import Arrive, Dispatch, Pack, Unpack
from rindline_schema.events.wheels import Hoop, Iron, Move, Tend, Weigh
from rindline_schema.quantities import LongText

__all__ = ["Correct", "Fact"]

Fact = (
    Receive
    | Make
    | Hoop
    | Move
    | Tend
    | Iron
    | Weigh
    | Cut
    | Blend
    | Pack
    | Unpack
    | Dispatch
    | Arrive
    | Sample
    | Result
    | Hold
    | Release
    | Discard
    | Clean
    | Declare
    | Settle
    | Label
)
"""Any event that is not itself a correction."""


class Correct(EventBase, kw_only=True, frozen=True, tag="correct"):
    """An earlier event was wrong: it no longer counts, and perhaps another stands for it.

    ``event`` is the id of the event that is void from now on. ``replacement`` is a whole event
    with an id of its own, so that it can be corrected in its turn.
    """

    event: UUID
    reason: LongText
    replacement: Fact | None = None
