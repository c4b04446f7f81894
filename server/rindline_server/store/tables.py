"""The tables, once, for both databases.

``ledger`` is the record itself; ``head`` points at its end; ``keys``, ``drills`` and what stations
say of themselves (:mod:`.station_tables`) are neither record nor derived of it. What is derived is
in :mod:`.derived_tables`, readings of sensors and what is derived of those in :mod:`.air_tables`;
together they are ``METADATA``.

Ids of events are 16 bytes, masses grams, times microseconds since 1970 UTC. ``seq`` says by which
event of the ledger a row came into force and ``void_seq`` by which it went out of it, so that the
record can be asked for as it stood at any ``seq``.
"""

from sqlalchemy import CheckConstraint, Column, Index, LargeBinary, Table

from rindline_server.store.air_tables import (
    AIR_DAYS,
    AIR_DUE,
    AIR_HOURS,
    DOUBTS,
    DOUBTS_DUE,
    READINGS,
    ROLLED,
)
from rindline_server.store.columns import METADATA, NUMBER, big, event_id, small, words
from rindline_server.store.derived_tables import (
    CLEARS,
    DERIVED,
    DISCREPANCIES,
    EDGES,
    ENTRIES,
    FINDINGS,
    HOLDINGS,
    HOLDS,
    LINKS,
    LOTS,
    SENT,
    SERIALS,
    STAYS,
    VERSIONS,
    VOIDS,
)
from rindline_server.store.station_tables import CODE_BLOCKS, OUTBOXES

__all__ = [
    "AIR_DAYS",
    "AIR_DUE",
    "AIR_HOURS",
    "APPEND_ONLY",
    "CLEARS",
    "CODE_BLOCKS",
    "DERIVED",
    "DISCREPANCIES",
    "DOUBTS",
    "DOUBTS_DUE",
    "DRILLS",
    "EDGES",
    "ENTRIES",
    "FINDINGS",
    "HEAD",
    "HOLDINGS",
    "HOLDS",
    "KEYS",
    "LEDGER",
    "LINKS",
    "LOTS",
    "METADATA",
    "OUTBOXES",
    "READINGS",
    "ROLLED",
    "SENT",
    "SERIALS",
    "STAYS",
    "VERSIONS",
    "VOIDS",
]

# --- the record -----------------------------------------------------------------------------------

LEDGER = Table(
    "ledger",
    METADATA,
    Column("seq", NUMBER, primary_key=True, nullable=False, autoincrement=False),
    Column("id", LargeBinary(16), nullable=False, unique=True),
    Column("replacement_id", LargeBinary(16), nullable=True, unique=True),
    words("station"),
    big("recorded_us"),
    Column("told_hash", LargeBinary(32), nullable=False),
    Column("body", LargeBinary, nullable=False),
    Column("answer", LargeBinary, nullable=False),
    Column("hash", LargeBinary(32), nullable=False),
)

HEAD = Table(
    "head",
    METADATA,
    small("id", primary_key=True),
    big("seq"),
    Column("hash", LargeBinary(32), nullable=False),
    big("next_lot_id"),
    big("register_seq"),
    CheckConstraint("id = 1", name="one_row"),
)

# --- neither record nor derived -------------------------------------------------------------------

KEYS = Table(
    "keys",
    METADATA,
    words("prefix", primary_key=True),
    Column("secret_hash", LargeBinary(32), nullable=False),
    words("name"),
    words("role"),
    words("site", nullable=True),
    words("partner", nullable=True),
    big("created_us"),
    big("expires_us", nullable=True),
    big("revoked_us", nullable=True),
)

DRILLS = Table(
    "drills",
    METADATA,
    event_id("id", primary_key=True),
    big("asked_us"),
    words("asked_by"),
    big("as_of"),
    Column("request", LargeBinary, nullable=False),
    Column("answer", LargeBinary, nullable=False),
    Index(None, "asked_us", "id"),
)

APPEND_ONLY = (LEDGER.name, DRILLS.name, READINGS.name)
"""The tables that triggers guard against any change of a row that is there."""
