"""What an outbox sends: its batch, and its events one by one, so that one can't block the rest."""

from typing import NamedTuple
from uuid import UUID

import msgspec

from rindline_schema.answers import BlockUse, OutboxBatch, Refused
from rindline_schema.events import Event
from rindline_schema.quantities import Time
from rindline_server.http.decoding import decode_parts, decode_whole
from rindline_server.service import OutboxSays

__all__ = ["OutboxTold", "decode_outbox"]


class _Item(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    number: int
    age_ms: int
    event: msgspec.Raw


class _Batch(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """An ``OutboxBatch`` whose events are not read yet."""

    outbox: UUID
    station_clock: Time
    next_number: int
    queued: int = 0
    set_aside: int = 0
    oldest_age_ms: int | None = None
    items: list[_Item] = []
    blocks: list[BlockUse] = []


_LOOSE = msgspec.json.Decoder(_Batch)
_STRICT = msgspec.json.Decoder(OutboxBatch)
_PLACEHOLDER = msgspec.Raw(
    b'{"type":"weigh","id":"00000000-0000-7000-8000-000000000000",'
    b'"at":"2000-01-01T00:00:00Z","lot":"AA00001W00000","mass_g":0}'
)


class OutboxTold(NamedTuple):
    """The events (or why one can't be read) with their ages, and what else the outbox says."""

    told: list[Event | Refused]
    ages_ms: list[int]
    says: OutboxSays


def decode_outbox(body: bytes) -> OutboxTold:
    """Decode what an outbox tells; raises ``malformed`` if anything but an event is wrong."""
    batch = decode_whole(body, _LOOSE, OutboxBatch)
    # The limits of all but the events, by the contract's own types.
    items = [msgspec.structs.replace(item, event=_PLACEHOLDER) for item in batch.items]
    decode_whole(
        msgspec.json.encode(msgspec.structs.replace(batch, items=items)), _STRICT, OutboxBatch
    )
    return OutboxTold(
        decode_parts([item.event for item in batch.items]),
        [item.age_ms for item in batch.items],
        _says(batch),
    )


def _says(batch: _Batch) -> OutboxSays:
    return OutboxSays(
        outbox=batch.outbox,
        station_clock=batch.station_clock,
        next_number=batch.next_number,
        queued=batch.queued,
        set_aside=batch.set_aside,
        oldest_age_ms=batch.oldest_age_ms,
        blocks=batch.blocks,
        numbers=[item.number for item in batch.items],
    )
