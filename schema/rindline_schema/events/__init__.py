"""Everything that happens is an event: a small fact told by a station in the trade's words."""

from rindline_schema.events.base import Document, EventBase, Input, Line
from rindline_schema.events.correction import Correct, Fact
from rindline_schema.events.cutting import Blend, Cut, NewLot, Piece, Place
from rindline_schema.events.labels import Label
from rindline_schema.events.milk import Heat, Make, MilkTests, Receive, VatReading
from rindline_schema.events.office import Declare, Settle
from rindline_schema.events.safety import Clean, Discard, Discarded, Hold, Release, Result, Sample
from rindline_schema.events.shipping import Arrive, Dispatch, Pack, Packed, Unpack
from rindline_schema.events.wheels import Hoop, Iron, Move, NewWheel, Tend, Weigh

__all__ = [
    "Arrive",
    "Blend",
    "Clean",
    "Correct",
    "Cut",
    "Declare",
    "Discard",
    "Discarded",
    "Dispatch",
    "Document",
    "Event",
    "EventBase",
    "Fact",
    "Heat",
    "Hold",
    "Hoop",
    "Input",
    "Iron",
    "Label",
    "Line",
    "Make",
    "MilkTests",
    "Move",
    "NewLot",
    "NewWheel",
    "Pack",
    "Packed",
    "Piece",
    "Place",
    "Receive",
    "Release",
    "Result",
    "Sample",
    "Settle",
    "Tend",
    "Unpack",
    "VatReading",
    "Weigh",
]

Event = Fact | Correct
"""Any event, told apart by its ``type``."""
