"""Examples of what stations send and are answered."""

from datetime import date
from typing import Any

from rindline_schema.answers import (
    BatchAnswer,
    CodeBlock,
    CodeBlockPage,
    CodeBlockRequest,
    CodeBlockState,
    NumberRange,
    OutboxBatch,
    OutboxItem,
    OutboxState,
    StationPage,
    StationState,
    Told,
)
from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_server.http.openapi.event_examples import EVENT_EXAMPLES, example_id, example_time

__all__ = ["STATION_ANSWERS", "STATION_BODIES"]

_WEIGH = EVENT_EXAMPLES["weigh"]
_OUTBOX = example_id(40, 70)
_DAY = date(2025, 5, 14)
_PREFIX = lot_code_prefix("QM", _DAY, "wheel")
_USABLE = [serial for serial in range(1, 60) if lot_code(_PREFIX, serial) is not None][:50]

_BLOCK: dict[str, Any] = {
    "id": example_id(41, 70),
    "site": "QM",
    "day": _DAY,
    "kind": "wheel",
    "prefix": _PREFIX,
    "first_serial": _USABLE[0],
    "last_serial": _USABLE[-1],
    "codes": len(_USABLE),
    "reserved_at": example_time(70),
}

STATION_ANSWERS: dict[str, Any] = {
    "tell_from_outbox": BatchAnswer(
        outcomes=[Told(id=_WEIGH.id, seq=14_230, recorded_at=example_time(70))],
        recorded=1,
        refused=0,
        replayed=0,
    ),
    "stations": StationPage(
        stations=[
            StationState(
                key="rindline_0f3a9c21",
                name="Scale in the cutting room",
                site="QM",
                last_heard_at=example_time(70),
                outboxes=[
                    OutboxState(
                        outbox=_OUTBOX,
                        last_heard_at=example_time(70),
                        next_number=1_204,
                        missing=[NumberRange(first=1_198, last=1_200)],
                        missing_count=3,
                        refused_count=1,
                        clock_ahead_ms=-340,
                        last_number=1_203,
                        queued=2,
                        set_aside=1,
                        oldest_age_ms=4_200,
                    )
                ],
            )
        ],
        as_of=14_230,
    ),
    "reserve_codes": CodeBlock(**_BLOCK),
    "code_blocks": CodeBlockPage(
        blocks=[
            CodeBlockState(
                **_BLOCK,
                station="Label printer",
                stamped=12,
                heard=10,
                unheard=1,
                spoiled=1,
                unused=len(_USABLE) - 12,
                unheard_lots=[lot_code(_PREFIX, _USABLE[11]) or ""],
            )
        ],
        as_of=14_230,
    ),
}
"""By operation name: an answer."""

STATION_BODIES: dict[str, Any] = {
    "tell_from_outbox": OutboxBatch(
        outbox=_OUTBOX,
        station_clock=example_time(70),
        next_number=1_204,
        queued=1,
        items=[OutboxItem(number=1_203, age_ms=4_200, event=_WEIGH)],
    ),
    "reserve_codes": CodeBlockRequest(
        id=example_id(41, 70), site="QM", day=_DAY, kind="wheel", count=50
    ),
}
"""By operation name: a body."""
