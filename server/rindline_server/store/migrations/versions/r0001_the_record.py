"""The record: ledger, head, what is derived of them, keys and drills."""

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0001"
down_revision = None

_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_CODE = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
_IN_FORCE = sa.text("void_seq IS NULL")
_VOIDED = sa.text("void_seq IS NOT NULL")


def upgrade() -> None:
    """Make every table; the ledger begins empty."""
    _record()
    _lots()
    _edges()
    _whereabouts()
    _doubts()
    _lookups()
    _desk()
    op.execute(
        sa.text(
            "INSERT INTO head (id, seq, hash, next_lot_id, register_seq) VALUES (1, 0, :none, 1, 0)"
        ).bindparams(sa.bindparam("none", bytes(32), sa.LargeBinary()))
    )


def _record() -> None:
    op.create_table(
        "ledger",
        sa.Column("seq", _NUMBER, autoincrement=False, nullable=False),
        sa.Column("id", sa.LargeBinary(16), nullable=False),
        sa.Column("replacement_id", sa.LargeBinary(16), nullable=True),
        sa.Column("station", sa.Text(), nullable=False),
        sa.Column("recorded_us", sa.BigInteger(), nullable=False),
        sa.Column("told_hash", sa.LargeBinary(32), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("answer", sa.LargeBinary(), nullable=False),
        sa.Column("hash", sa.LargeBinary(32), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_ledger"),
        sa.UniqueConstraint("id", name="uq_ledger_id"),
        sa.UniqueConstraint("replacement_id", name="uq_ledger_replacement_id"),
    )
    op.create_table(
        "head",
        sa.Column("id", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("hash", sa.LargeBinary(32), nullable=False),
        sa.Column("next_lot_id", sa.BigInteger(), nullable=False),
        sa.Column("register_seq", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_head_one_row")),
        sa.PrimaryKeyConstraint("id", name="pk_head"),
    )


def _lots() -> None:
    op.create_table(
        "lots",
        sa.Column("id", _NUMBER, autoincrement=False, nullable=False),
        sa.Column("code", _CODE, nullable=False),
        sa.Column("kind", sa.SmallInteger(), nullable=False),
        sa.Column("site", sa.Text(), nullable=False),
        sa.Column("product", sa.Text(), nullable=True),
        sa.Column("supplier", sa.Text(), nullable=True),
        sa.Column("state", sa.SmallInteger(), nullable=False),
        sa.Column("held", sa.SmallInteger(), nullable=False),
        sa.Column("born_us", sa.BigInteger(), nullable=True),
        sa.Column("born_seq", sa.BigInteger(), nullable=True),
        sa.Column("made_g", sa.BigInteger(), nullable=False),
        sa.Column("made_count", sa.Integer(), nullable=False),
        sa.Column("ours_g", sa.BigInteger(), nullable=False),
        sa.Column("ours_count", sa.Integer(), nullable=False),
        sa.Column("into_g", sa.BigInteger(), nullable=False),
        sa.Column("ripening_g", sa.BigInteger(), nullable=False),
        sa.Column("drained_g", sa.BigInteger(), nullable=False),
        sa.Column("cutting_g", sa.BigInteger(), nullable=False),
        sa.Column("samples_g", sa.BigInteger(), nullable=False),
        sa.Column("discarded_g", sa.BigInteger(), nullable=False),
        sa.Column("unaccounted_g", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_lots"),
        sa.UniqueConstraint("code", name="uq_lots_code"),
    )
    op.create_index(
        "ix_lots_held",
        "lots",
        ["code"],
        sqlite_where=sa.text("held > 0"),
        postgresql_where=sa.text("held > 0"),
    )
    op.create_index("ix_lots_product_code", "lots", ["product", "code"])
    op.create_index("ix_lots_state_code", "lots", ["state", "code"])
    op.create_table(
        "entries",
        sa.Column("lot_id", sa.BigInteger(), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("part", sa.Integer(), nullable=False),
        sa.Column("void_seq", sa.BigInteger(), nullable=True),
        sa.Column("event", sa.LargeBinary(16), nullable=False),
        sa.Column("line", sa.Integer(), nullable=False),
        sa.Column("kind", sa.SmallInteger(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("site", sa.Text(), nullable=False),
        sa.Column("mass_g", sa.BigInteger(), nullable=True),
        sa.Column("count", sa.Integer(), nullable=True),
        sa.Column("room", sa.Text(), nullable=True),
        sa.Column("document", sa.Text(), nullable=True),
        sa.Column("partner", sa.Text(), nullable=True),
        sa.Column("to_site", sa.Text(), nullable=True),
        sa.Column("spreads", sa.Boolean(), nullable=False),
        sa.Column("detail", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("lot_id", "seq", "part", name="pk_entries"),
        sqlite_with_rowid=False,
    )


def _edges() -> None:
    op.create_table(
        "edges",
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("line", sa.Integer(), nullable=False),
        sa.Column("void_seq", sa.BigInteger(), nullable=True),
        sa.Column("parent_id", sa.BigInteger(), nullable=False),
        sa.Column("child_id", sa.BigInteger(), nullable=False),
        sa.Column("mass_g", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("seq", "line", name="pk_edges"),
        sqlite_with_rowid=False,
    )
    op.create_index(
        "ix_edges_back",
        "edges",
        ["child_id", "parent_id", "mass_g", "void_seq"],
        sqlite_where=_IN_FORCE,
        postgresql_where=_IN_FORCE,
    )
    op.create_index(
        "ix_edges_forward",
        "edges",
        ["parent_id", "child_id", "mass_g", "void_seq"],
        sqlite_where=_IN_FORCE,
        postgresql_where=_IN_FORCE,
    )
    op.create_index(
        "ix_edges_voided_back",
        "edges",
        ["child_id"],
        sqlite_where=_VOIDED,
        postgresql_where=_VOIDED,
    )
    op.create_index(
        "ix_edges_voided_forward",
        "edges",
        ["parent_id"],
        sqlite_where=_VOIDED,
        postgresql_where=_VOIDED,
    )


def _whereabouts() -> None:
    op.create_table(
        "holdings",
        sa.Column("lot_id", sa.BigInteger(), nullable=False),
        sa.Column("sort", sa.SmallInteger(), nullable=False),
        sa.Column("holder", sa.Text(), nullable=False),
        sa.Column("room", sa.Text(), nullable=True),
        sa.Column("to_site", sa.Text(), nullable=True),
        sa.Column("mass_g", sa.BigInteger(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("lot_id", "sort", "holder", name="pk_holdings"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "stays",
        sa.Column("lot_id", sa.BigInteger(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("site", sa.Text(), nullable=False),
        sa.Column("room", sa.Text(), nullable=True),
        sa.Column("from_us", sa.BigInteger(), nullable=False),
        sa.Column("until_us", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("lot_id", "number", name="pk_stays"),
        sqlite_with_rowid=False,
    )
    op.create_index("ix_stays_room_from_us", "stays", ["room", "from_us"])
    op.create_table(
        "sent",
        sa.Column("lot_id", sa.BigInteger(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("event", sa.LargeBinary(16), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("document_kind", sa.Text(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("mass_g", sa.BigInteger(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("partner", sa.Text(), nullable=True),
        sa.Column("to_site", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("lot_id", "number", name="pk_sent"),
        sqlite_with_rowid=False,
    )


def _doubts() -> None:
    op.create_table(
        "holds",
        sa.Column("lot_id", sa.BigInteger(), nullable=False),
        sa.Column("event", sa.LargeBinary(16), nullable=False),
        sa.Column("since_us", sa.BigInteger(), nullable=False),
        sa.Column("until_us", sa.BigInteger(), nullable=True),
        sa.Column("spreads", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("lot_id", "event", name="pk_holds"),
        sqlite_with_rowid=False,
    )
    op.create_index(
        "ix_holds_spreading",
        "holds",
        ["until_us", "since_us"],
        sqlite_where=sa.text("spreads"),
        postgresql_where=sa.text("spreads"),
    )
    op.create_table(
        "clears",
        sa.Column("lot_id", sa.BigInteger(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("lot_id", "at_us", name="pk_clears"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "discrepancies",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("lot_id", sa.BigInteger(), nullable=False),
        sa.Column("event", sa.LargeBinary(16), nullable=False),
        sa.Column("grams", sa.BigInteger(), nullable=False),
        sa.Column("sure", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_discrepancies"),
        sqlite_with_rowid=False,
    )
    op.create_index("ix_discrepancies_lot_id", "discrepancies", ["lot_id"])


def _lookups() -> None:
    op.create_table(
        "findings",
        sa.Column("discrepancy", sa.Text(), nullable=False),
        sa.Column("event", sa.LargeBinary(16), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("void_seq", sa.BigInteger(), nullable=True),
        sa.Column("finding", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("discrepancy", "event", name="pk_findings"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "register_versions",
        sa.Column("register", sa.Text(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("event", sa.LargeBinary(16), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("void_seq", sa.BigInteger(), nullable=True),
        sa.Column("entry", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("register", "code", "event", name="pk_register_versions"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "voids",
        sa.Column("target", sa.LargeBinary(16), nullable=False),
        sa.Column("correction", sa.LargeBinary(16), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("target", name="pk_voids"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "links",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("event", sa.LargeBinary(16), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("key", "event", name="pk_links"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "serials",
        sa.Column("prefix", sa.Text(), nullable=False),
        sa.Column("last", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("prefix", name="pk_serials"),
        sqlite_with_rowid=False,
    )


def _desk() -> None:
    op.create_table(
        "keys",
        sa.Column("prefix", sa.Text(), nullable=False),
        sa.Column("secret_hash", sa.LargeBinary(32), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("site", sa.Text(), nullable=True),
        sa.Column("partner", sa.Text(), nullable=True),
        sa.Column("created_us", sa.BigInteger(), nullable=False),
        sa.Column("expires_us", sa.BigInteger(), nullable=True),
        sa.Column("revoked_us", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("prefix", name="pk_keys"),
    )
    op.create_table(
        "drills",
        sa.Column("id", sa.LargeBinary(16), nullable=False),
        sa.Column("asked_us", sa.BigInteger(), nullable=False),
        sa.Column("asked_by", sa.Text(), nullable=False),
        sa.Column("as_of", sa.BigInteger(), nullable=False),
        sa.Column("request", sa.LargeBinary(), nullable=False),
        sa.Column("answer", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_drills"),
    )
    op.create_index("ix_drills_asked_us_id", "drills", ["asked_us", "id"])
