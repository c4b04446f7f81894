"""Indexes of the wheels by when they were hooped, of one product and of all."""

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0004"
down_revision = "0003"

# As a lot's row says that it is a wheel.
_IS_WHEEL = sa.text("kind = 3")


def upgrade() -> None:
    """Make both."""
    for name, columns in (
        ("ix_lots_wheels_of_product", ["product", "born_us"]),
        ("ix_lots_wheels", ["born_us"]),
    ):
        op.create_index(name, "lots", columns, sqlite_where=_IS_WHEEL, postgresql_where=_IS_WHEEL)
