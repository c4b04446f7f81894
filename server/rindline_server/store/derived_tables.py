"""The tables that are derived of the ledger: folding it from zero gives the same rows again.

There are no foreign keys between them: one writer fills them, a rebuild proves them, and a look-up
for each row would cost more than the row.
"""

from sqlalchemy import Boolean, Column, Index, Integer, LargeBinary, Table, text

from rindline_server.store.columns import CODE, METADATA, NUMBER, big, event_id, small, words

__all__ = [
    "CLEARS",
    "DERIVED",
    "DISCREPANCIES",
    "EDGES",
    "ENTRIES",
    "FINDINGS",
    "HOLDINGS",
    "HOLDS",
    "LINKS",
    "LOTS",
    "SENT",
    "SERIALS",
    "STAYS",
    "VERSIONS",
    "VOIDS",
]

_IN_FORCE = text("void_seq IS NULL")
_IS_WHEEL = text("kind = 3")

# --- what lies where ---------------------------------------------------------------------

LOTS = Table(
    "lots",
    METADATA,
    Column("id", NUMBER, primary_key=True, nullable=False, autoincrement=False),
    Column("code", CODE, nullable=False, unique=True),
    small("kind"),
    words("site"),
    words("product", nullable=True),
    words("supplier", nullable=True),
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
    # Wheels by the time of hooping, of one product and of all; 3 is a wheel's place in LOT_KINDS.
    Index(
        "ix_lots_wheels_of_product",
        "product",
        "born_us",
        sqlite_where=_IS_WHEEL,
        postgresql_where=_IS_WHEEL,
    ),
    Index("ix_lots_wheels", "born_us", sqlite_where=_IS_WHEEL, postgresql_where=_IS_WHEEL),
)

ENTRIES = Table(
    "entries",
    METADATA,
    # Clustered by lot: a lot's book is read in one go.
    big("lot_id", primary_key=True),
    big("seq", primary_key=True),
    Column("part", Integer, primary_key=True, nullable=False, autoincrement=False),
    big("void_seq", nullable=True),
    event_id("event"),
    Column("line", Integer, nullable=False),
    small("kind"),
    big("at_us"),
    words("site"),
    big("mass_g", nullable=True),
    Column("count", Integer, nullable=True),
    words("room", nullable=True),
    words("document", nullable=True),
    words("partner", nullable=True),
    words("to_site", nullable=True),
    Column("spreads", Boolean(create_constraint=False), nullable=False),
    words("detail", nullable=True),
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
    words("holder", primary_key=True),
    words("room", nullable=True),
    words("to_site", nullable=True),
    big("mass_g"),
    Column("count", Integer, nullable=False),
    sqlite_with_rowid=False,
)

STAYS = Table(
    "stays",
    METADATA,
    big("lot_id", primary_key=True),
    Column("number", Integer, primary_key=True, nullable=False, autoincrement=False),
    words("site"),
    words("room", nullable=True),
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
    event_id("event"),
    words("document"),
    words("document_kind"),
    big("at_us"),
    big("mass_g"),
    Column("count", Integer, nullable=False),
    words("partner", nullable=True),
    words("to_site", nullable=True),
    sqlite_with_rowid=False,
)

HOLDS = Table(
    "holds",
    METADATA,
    big("lot_id", primary_key=True),
    event_id("event", primary_key=True),
    big("since_us"),
    big("until_us", nullable=True),
    Column("spreads", Boolean(create_constraint=False), nullable=False),
    words("reason"),
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
    words("id", primary_key=True),
    words("kind"),
    big("lot_id"),
    event_id("event"),
    big("grams"),
    Column("sure", Boolean(create_constraint=False), nullable=False),
    Index(None, "lot_id"),
    sqlite_with_rowid=False,
)

# --- what else the rules look up ---------------------------------------------------------

FINDINGS = Table(
    "findings",
    METADATA,
    words("discrepancy", primary_key=True),
    event_id("event", primary_key=True),
    big("seq"),
    big("void_seq", nullable=True),
    words("finding"),
    sqlite_with_rowid=False,
)

VERSIONS = Table(
    "register_versions",
    METADATA,
    words("register", primary_key=True),
    words("code", primary_key=True),
    event_id("event", primary_key=True),
    big("at_us"),
    big("seq"),
    big("void_seq", nullable=True),
    Column("entry", LargeBinary, nullable=False),
    sqlite_with_rowid=False,
)

VOIDS = Table(
    "voids",
    METADATA,
    event_id("target", primary_key=True),
    event_id("correction"),
    big("seq"),
    sqlite_with_rowid=False,
)

LINKS = Table(
    "links",
    METADATA,
    words("key", primary_key=True),
    event_id("event", primary_key=True),
    big("seq"),
    sqlite_with_rowid=False,
)

SERIALS = Table(
    "serials",
    METADATA,
    words("prefix", primary_key=True),
    big("last"),
    sqlite_with_rowid=False,
)

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
