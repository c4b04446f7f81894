"""Stations: their outboxes, and blocks of lot codes."""

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the two tables."""
    op.create_table(
        "outboxes",
        sa.Column("id", sa.LargeBinary(16), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("site", sa.Text(), nullable=True),
        sa.Column("heard_us", sa.BigInteger(), nullable=False),
        sa.Column("station_us", sa.BigInteger(), nullable=False),
        sa.Column("next_number", sa.BigInteger(), nullable=False),
        sa.Column("queued", sa.BigInteger(), nullable=False),
        sa.Column("set_aside", sa.BigInteger(), nullable=False),
        sa.Column("oldest_age_ms", sa.BigInteger(), nullable=True),
        sa.Column("clock_ahead_ms", sa.BigInteger(), nullable=False),
        sa.Column("recorded", sa.Text(), nullable=False),
        sa.Column("refused", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_outboxes"),
    )
    op.create_table(
        "code_blocks",
        sa.Column("id", sa.LargeBinary(16), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("site", sa.Text(), nullable=False),
        sa.Column("day", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("prefix", sa.Text(), nullable=False),
        sa.Column("first_serial", sa.BigInteger(), nullable=False),
        sa.Column("last_serial", sa.BigInteger(), nullable=False),
        sa.Column("codes", sa.BigInteger(), nullable=False),
        sa.Column("reserved_us", sa.BigInteger(), nullable=False),
        sa.Column("stamped_to", sa.BigInteger(), nullable=False),
        sa.Column("spoiled", sa.Text(), nullable=False),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_code_blocks"),
    )
    op.create_index("ix_code_blocks_prefix_last_serial", "code_blocks", ["prefix", "last_serial"])
    op.create_index("ix_code_blocks_reserved_us_id", "code_blocks", ["reserved_us", "id"])
