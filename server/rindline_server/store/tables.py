"""The tables, once, for both databases.

``ledger`` is the record itself; ``head`` points at its end. All between ``lots`` and ``serials``
is derived: folding the ledger from zero gives the same rows again, and ``rebuild`` checks it.
There are no foreign keys between derived tables: one writer fills them, a rebuild proves them,
and a look-up for each row would cost more than the row.

Ids of events are 16 bytes, masses grams, times microseconds since 1970 UTC. ``seq`` says by which
event of the ledger a row came into force and ``void_seq`` by which it went out of it, so that the
record can be asked for as it stood at any ``seq``.
"""

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Index,
    Integer,
    LargeBinary,
    Table,
    text,
)

from rindline_server.store.columns import CODE, METADATA, NUMBER, big, id_column, small, text_column
from rindline_server.store.station_tables import CODE_BLOCKS, OUTBOXES

__all__ = [
    "APPEND_ONLY",
    "CLEARS",
    "CODE_BLOCKS",
    "DERIVED",
    "DISCREPANCIES",
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
    "SENT",
    "SERIALS",
    "STAYS",
    "VERSIONS",
    "VOIDS",
]

_IN_FORCE = text("void_seq IS NULL")


# --- the record -----------------------------------------------------------------------------------

LEDGER = Table(
    "ledger",
    METADATA,
    Column("seq", NUMBER, primary_key=True, nullable=False, autoincrement=False),
    Column("id", LargeBinary(16), nullable=False, unique=True),
    Column("replacement_id", LargeBinary(16), nullable=True, unique=True),
    text_column("station"),
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

# --- derived: what lies where ---------------------------------------------------------------------

LOTS = Table(
    "lots",
    METADATA,
    Column("id", NUMBER, primary_key=True, nullable=False, autoincrement=False),
    Column("code", CODE, nullable=False, unique=True),
    small("kind"),
    text_column("site"),
    text_column("product", nullable=True),
    text_column("supplier", nullable=True),
    small("state"),
    small("held"),
    big("born_us", nullable=True),
    big("born_seq", nullable=True),
    big("made_g"),
    Column("made_count", Integer, nullable=False),
    big("ours_g"),
    Column("ours_count", Integer, nullable=False),
    big("into_g"),
    big("ripening_g"),
    big("drained_g"),
    big("cutting_g"),
    big("samples_g"),
    big("discarded_g"),
    big("unaccounted_g"),
    Index(None, "product", "code"),
    Index(None, "state", "code"),
    Index(
        "ix_lots_held",
        "code",
        sqlite_where=text("held > 0"),
        postgresql_where=text("held > 0"),
    ),
)

ENTRIES = Table(
    "entries",
    METADATA,
    # Clustered by lot: a lot's book is read in one go.
    big("lot_id", primary_key=True),
    big("seq", primary_key=True),
    Column("part", Integer, primary_key=True, nullable=False, autoincrement=False),
    big("void_seq", nullable=True),
    id_column("event"),
    Column("line", Integer, nullable=False),
    small("kind"),
    big("at_us"),
    text_column("site"),
    big("mass_g", nullable=True),
    Column("count", Integer, nullable=True),
    text_column("room", nullable=True),
    text_column("document", nullable=True),
    text_column("partner", nullable=True),
    text_column("to_site", nullable=True),
    Column("spreads", Boolean(create_constraint=False), nullable=False),
    text_column("detail", nullable=True),
    sqlite_with_rowid=False,
)

EDGES = Table(
    "edges",
    METADATA,
    big("seq", primary_key=True),
    Column("line", Integer, primary_key=True, nullable=False, autoincrement=False),
    big("void_seq", nullable=True),
    big("parent_id"),
    big("child_id"),
    big("mass_g"),
    # Each direction of a trace reads its index alone; on SQLite only if void_seq is in it as well.
    Index(
        "ix_edges_forward",
        "parent_id",
        "child_id",
        "mass_g",
        "void_seq",
        sqlite_where=_IN_FORCE,
        postgresql_where=_IN_FORCE,
    ),
    Index(
        "ix_edges_back",
        "child_id",
        "parent_id",
        "mass_g",
        "void_seq",
        sqlite_where=_IN_FORCE,
        postgresql_where=_IN_FORCE,
    ),
    # What was voided is few, and only asked for by traces of an earlier time.
    Index(
        "ix_edges_voided_forward",
        "parent_id",
        sqlite_where=text("void_seq IS NOT NULL"),
        postgresql_where=text("void_seq IS NOT NULL"),
    ),
    Index(
        "ix_edges_voided_back",
        "child_id",
        sqlite_where=text("void_seq IS NOT NULL"),
        postgresql_where=text("void_seq IS NOT NULL"),
    ),
    sqlite_with_rowid=False,
)

HOLDINGS = Table(
    "holdings",
    METADATA,
    big("lot_id", primary_key=True),
    small("sort", primary_key=True),
    text_column("holder", primary_key=True),
    text_column("room", nullable=True),
    text_column("to_site", nullable=True),
    big("mass_g"),
    Column("count", Integer, nullable=False),
    sqlite_with_rowid=False,
)

STAYS = Table(
    "stays",
    METADATA,
    big("lot_id", primary_key=True),
    Column("number", Integer, primary_key=True, nullable=False, autoincrement=False),
    text_column("site"),
    text_column("room", nullable=True),
    big("from_us"),
    big("until_us", nullable=True),
    Index(None, "room", "from_us"),
    sqlite_with_rowid=False,
)

SENT = Table(
    "sent",
    METADATA,
    big("lot_id", primary_key=True),
    Column("number", Integer, primary_key=True, nullable=False, autoincrement=False),
    id_column("event"),
    text_column("document"),
    text_column("document_kind"),
    big("at_us"),
    big("mass_g"),
    Column("count", Integer, nullable=False),
    text_column("partner", nullable=True),
    text_column("to_site", nullable=True),
    sqlite_with_rowid=False,
)

HOLDS = Table(
    "holds",
    METADATA,
    big("lot_id", primary_key=True),
    id_column("event", primary_key=True),
    big("since_us"),
    big("until_us", nullable=True),
    Column("spreads", Boolean(create_constraint=False), nullable=False),
    text_column("reason"),
    Index(
        "ix_holds_spreading",
        "until_us",
        "since_us",
        sqlite_where=text("spreads"),
        postgresql_where=text("spreads"),
    ),
    sqlite_with_rowid=False,
)

CLEARS = Table(
    "clears",
    METADATA,
    big("lot_id", primary_key=True),
    big("at_us", primary_key=True),
    sqlite_with_rowid=False,
)

DISCREPANCIES = Table(
    "discrepancies",
    METADATA,
    text_column("id", primary_key=True),
    text_column("kind"),
    big("lot_id"),
    id_column("event"),
    big("grams"),
    Column("sure", Boolean(create_constraint=False), nullable=False),
    Index(None, "lot_id"),
    sqlite_with_rowid=False,
)

# --- derived: what else the rules look up ---------------------------------------------------------

FINDINGS = Table(
    "findings",
    METADATA,
    text_column("discrepancy", primary_key=True),
    id_column("event", primary_key=True),
    big("seq"),
    big("void_seq", nullable=True),
    text_column("finding"),
    sqlite_with_rowid=False,
)

VERSIONS = Table(
    "register_versions",
    METADATA,
    text_column("register", primary_key=True),
    text_column("code", primary_key=True),
    id_column("event", primary_key=True),
    big("at_us"),
    big("seq"),
    big("void_seq", nullable=True),
    Column("entry", LargeBinary, nullable=False),
    sqlite_with_rowid=False,
)

VOIDS = Table(
    "voids",
    METADATA,
    id_column("target", primary_key=True),
    id_column("correction"),
    big("seq"),
    sqlite_with_rowid=False,
)

LINKS = Table(
    "links",
    METADATA,
    text_column("key", primary_key=True),
    id_column("event", primary_key=True),
    big("seq"),
    sqlite_with_rowid=False,
)

SERIALS = Table(
    "serials",
    METADATA,
    text_column("prefix", primary_key=True),
    big("last"),
    sqlite_with_rowid=False,
)

# --- neither record nor derived -------------------------------------------------------------------

KEYS = Table(
    "keys",
    METADATA,
    text_column("prefix", primary_key=True),
    Column("secret_hash", LargeBinary(32), nullable=False),
    text_column("name"),
    text_column("role"),
    text_column("site", nullable=True),
    text_column("partner", nullable=True),
    big("created_us"),
    big("expires_us", nullable=True),
    big("revoked_us", nullable=True),
)

DRILLS = Table(
    "drills",
    METADATA,
    id_column("id", primary_key=True),
    big("asked_us"),
    text_column("asked_by"),
    big("as_of"),
    Column("request", LargeBinary, nullable=False),
    Column("answer", LargeBinary, nullable=False),
    Index(None, "asked_us", "id"),
)

APPEND_ONLY = (LEDGER.name, DRILLS.name)
"""The tables that triggers guard against any change of a row that is there."""

DERIVED = (
    LOTS,
    ENTRIES,
    EDGES,
    HOLDINGS,
    STAYS,
    SENT,
    HOLDS,
    CLEARS,
    DISCREPANCIES,
    FINDINGS,
    VERSIONS,
    VOIDS,
    LINKS,
    SERIALS,
)
"""The tables that a fold of the ledger from zero fills again."""
