"""${message}"""

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}


def upgrade() -> None:
    """Change the tables; the guards are put in place again afterwards."""
    ${upgrades if upgrades else "pass"}
