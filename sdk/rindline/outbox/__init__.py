"""The outbox: events on a station's disk before they are sent, and lot codes reserved ahead."""

from rindline.outbox._async_outbox import AsyncCodes, AsyncOutbox
from rindline.outbox._entries import CodesLeft, EntryState, OutboxEntry, OutboxStatus, Queued
from rindline.outbox._outbox import Codes, Outbox

__all__ = [
    "AsyncCodes",
    "AsyncOutbox",
    "Codes",
    "CodesLeft",
    "EntryState",
    "Outbox",
    "OutboxEntry",
    "OutboxStatus",
    "Queued",
]
