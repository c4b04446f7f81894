"""An index of the wheels by when they were hooped."""

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Make the index; 3 is how a lot's row says that it is a wheel."""
    op.create_index(
        "ix_lots_wheels",
        "lots",
        ["born_us", "product"],
        sqlite_where=sa.text("kind = 3"),
        postgresql_where=sa.text("kind = 3"),
    )
