"""The tables of what stations say of themselves; see :mod:`.stations`."""

from sqlalchemy import Boolean, Column, Index, Table, Text

from rindline_server.store.columns import METADATA, big, event_id, words

__all__ = ["CODE_BLOCKS", "OUTBOXES"]

OUTBOXES = Table(
    "outboxes",
    METADATA,
    event_id("id", primary_key=True),
    words("key"),
    words("name"),
    words("site", nullable=True),
    big("heard_us"),
    big("station_us"),
    big("next_number"),
    big("queued"),
    big("set_aside"),
    big("oldest_age_ms", nullable=True),
    big("clock_ahead_ms"),
    Column("recorded", Text, nullable=False),
    Column("refused", Text, nullable=False),
)

CODE_BLOCKS = Table(
    "code_blocks",
    METADATA,
    event_id("id", primary_key=True),
    words("key"),
    words("name"),
    words("site"),
    words("day"),
    words("kind"),
    words("prefix"),
    big("first_serial"),
    big("last_serial"),
    big("codes"),
    big("reserved_us"),
    big("stamped_to"),
    Column("spoiled", Text, nullable=False),
    Column("closed", Boolean(create_constraint=False), nullable=False),
    Index(None, "prefix", "last_serial"),
    Index(None, "reserved_us", "id"),
)
