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
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    SmallInteger,
    Table,
    Text,
    text,
)

__all__ = [
    "APPEND_ONLY",
    "CLEARS",
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
    "SENT",
    "SERIALS",
    "STAYS",
    "VERSIONS",
    "VOIDS",
]

METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

_IN_FORCE = text("void_seq IS NULL")


# "INTEGER PRIMARY KEY" is SQLite's own row number, which costs no index.
_NUMBER = BigInteger().with_variant(Integer(), "sqlite")

# Ranges of codes must go by their characters whatever the language of the database.
_CODE = Text().with_variant(Text(collation="C"), "postgresql")


def _big(name: str, *, primary_key: bool = False, nullable: bool = False) -> "Column[int]":
    # No column numbers itself: the writer gives every number under the head lock.
    return Column(name, BigInteger, primary_key=primary_key, nullable=nullable, autoincrement=False)


def _id(name: str, *, primary_key: bool = False, nullable: bool = False) -> "Column[bytes]":
    return Column(name, LargeBinary(16), primary_key=primary_key, nullable=nullable)


def _small(name: str, *, primary_key: bool = False) -> "Column[int]":
    return Column(name, SmallInteger, primary_key=primary_key, nullable=False, autoincrement=False)


def _text(name: str, *, primary_key: bool = False, nullable: bool = False) -> "Column[str]":
    return Column(name, Text, primary_key=primary_key, nullable=nullable)


# --- the record -----------------------------------------------------------------------------------

LEDGER = Table(
    "ledger",
    METADATA,
    Column("seq", _NUMBER, primary_key=True, nullable=False, autoincrement=False),
    Column("id", LargeBinary(16), nullable=False, unique=True),
    Column("replacement_id", LargeBinary(16), nullable=True, unique=True),
    _text("station"),
    _big("recorded_us"),
    Column("told_hash", LargeBinary(32), nullable=False),
    Column("body", LargeBinary, nullable=False),
    Column("answer", LargeBinary, nullable=False),
    Column("hash", LargeBinary(32), nullable=False),
)

HEAD = Table(
    "head",
    METADATA,
    _small("id", primary_key=True),
    _big("seq"),
    Column("hash", LargeBinary(32), nullable=False),
    _big("next_lot_id"),
    _big("register_seq"),
    CheckConstraint("id = 1", name="one_row"),
)

# --- derived: what lies where ---------------------------------------------------------------------

LOTS = Table(
    "lots",
    METADATA,
    Column("id", _NUMBER, primary_key=True, nullable=False, autoincrement=False),
    Column("code", _CODE, nullable=False, unique=True),
    _small("kind"),
    _text("site"),
    _text("product", nullable=True),
    _text("supplier", nullable=True),
    _small("state"),
    _small("held"),
    _big("born_us", nullable=True),
    _big("born_seq", nullable=True),
    _big("made_g"),
    Column("made_count", Integer, nullable=False),
    _big("ours_g"),
    Column("ours_count", Integer, nullable=False),
    _big("into_g"),
    _big("ripening_g"),
    _big("drained_g"),
    _big("cutting_g"),
    _big("samples_g"),
    _big("discarded_g"),
    _big("unaccounted_g"),
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
    _big("lot_id", primary_key=True),
    _big("seq", primary_key=True),
    Column("part", Integer, primary_key=True, nullable=False, autoincrement=False),
    _big("void_seq", nullable=True),
    _id("event"),
    Column("line", Integer, nullable=False),
    _small("kind"),
    _big("at_us"),
    _text("site"),
    _big("mass_g", nullable=True),
    Column("count", Integer, nullable=True),
    _text("room", nullable=True),
    _text("document", nullable=True),
    _text("partner", nullable=True),
    _text("to_site", nullable=True),
    Column("spreads", Boolean(create_constraint=False), nullable=False),
    _text("detail", nullable=True),
    sqlite_with_rowid=False,
)

EDGES = Table(
    "edges",
    METADATA,
    _big("seq", primary_key=True),
    Column("line", Integer, primary_key=True, nullable=False, autoincrement=False),
    _big("void_seq", nullable=True),
    _big("parent_id"),
    _big("child_id"),
    _big("mass_g"),
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
    _big("lot_id", primary_key=True),
    _small("sort", primary_key=True),
    _text("holder", primary_key=True),
    _text("room", nullable=True),
    _text("to_site", nullable=True),
    _big("mass_g"),
    Column("count", Integer, nullable=False),
    sqlite_with_rowid=False,
)

STAYS = Table(
    "stays",
    METADATA,
    _big("lot_id", primary_key=True),
    Column("number", Integer, primary_key=True, nullable=False, autoincrement=False),
    _text("site"),
    _text("room", nullable=True),
    _big("from_us"),
    _big("until_us", nullable=True),
    Index(None, "room", "from_us"),
    sqlite_with_rowid=False,
)

SENT = Table(
    "sent",
    METADATA,
    _big("lot_id", primary_key=True),
    Column("number", Integer, primary_key=True, nullable=False, autoincrement=False),
    _id("event"),
    _text("document"),
    _text("document_kind"),
    _big("at_us"),
    _big("mass_g"),
    Column("count", Integer, nullable=False),
    _text("partner", nullable=True),
    _text("to_site", nullable=True),
    sqlite_with_rowid=False,
)

HOLDS = Table(
    "holds",
    METADATA,
    _big("lot_id", primary_key=True),
    _id("event", primary_key=True),
    _big("since_us"),
    _big("until_us", nullable=True),
    Column("spreads", Boolean(create_constraint=False), nullable=False),
    _text("reason"),
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
    _big("lot_id", primary_key=True),
    _big("at_us", primary_key=True),
    sqlite_with_rowid=False,
)

DISCREPANCIES = Table(
    "discrepancies",
    METADATA,
    _text("id", primary_key=True),
    _text("kind"),
    _big("lot_id"),
    _id("event"),
    _big("grams"),
    Column("sure", Boolean(create_constraint=False), nullable=False),
    Index(None, "lot_id"),
    sqlite_with_rowid=False,
)

# --- derived: what else the rules look up ---------------------------------------------------------

FINDINGS = Table(
    "findings",
    METADATA,
    _text("discrepancy", primary_key=True),
    _id("event", primary_key=True),
    _big("seq"),
    _big("void_seq", nullable=True),
    _text("finding"),
    sqlite_with_rowid=False,
)

VERSIONS = Table(
    "register_versions",
    METADATA,
    _text("register", primary_key=True),
    _text("code", primary_key=True),
    _id("event", primary_key=True),
    _big("at_us"),
    _big("seq"),
    _big("void_seq", nullable=True),
    Column("entry", LargeBinary, nullable=False),
    sqlite_with_rowid=False,
)

VOIDS = Table(
    "voids",
    METADATA,
    _id("target", primary_key=True),
    _id("correction"),
    _big("seq"),
    sqlite_with_rowid=False,
)

LINKS = Table(
    "links",
    METADATA,
    _text("key", primary_key=True),
    _id("event", primary_key=True),
    _big("seq"),
    sqlite_with_rowid=False,
)

SERIALS = Table(
    "serials",
    METADATA,
    _text("prefix", primary_key=True),
    _big("last"),
    sqlite_with_rowid=False,
)

# --- neither record nor derived -------------------------------------------------------------------

KEYS = Table(
    "keys",
    METADATA,
    _text("prefix", primary_key=True),
    Column("secret_hash", LargeBinary(32), nullable=False),
    _text("name"),
    _text("role"),
    _text("site", nullable=True),
    _text("partner", nullable=True),
    _big("created_us"),
    _big("expires_us", nullable=True),
    _big("revoked_us", nullable=True),
)

DRILLS = Table(
    "drills",
    METADATA,
    _id("id", primary_key=True),
    _big("asked_us"),
    _text("asked_by"),
    _big("as_of"),
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
