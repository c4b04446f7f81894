"""The outboxes: events or readings on a disk before they are sent, lot codes reserved ahead."""

from rindline.outbox._async_outbox import AsyncCodes, AsyncOutbox
from rindline.outbox._async_reading_outbox import AsyncReadingOutbox
from rindline.outbox._entries import CodesLeft, EntryState, OutboxEntry, OutboxStatus, Queued
from rindline.outbox._outbox import Codes, Outbox
from rindline.outbox._reading_entries import ReadingOutboxStatus, ReadingSetAside
from rindline.outbox._reading_outbox import ReadingOutbox

__all__ = [
    "AsyncCodes",
    "AsyncOutbox",
    "AsyncReadingOutbox",
    "Codes",
    "CodesLeft",
    "EntryState",
    "Outbox",
    "OutboxEntry",
    "OutboxStatus",
    "Queued",
    "ReadingOutbox",
    "ReadingOutboxStatus",
    "ReadingSetAside",
]
