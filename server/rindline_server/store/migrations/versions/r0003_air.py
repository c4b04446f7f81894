"""Air: readings of sensors, hours and days rolled up of them, doubts, and where they are due."""

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0003"
down_revision = "0002"


def _code(name: str) -> "sa.Column[str]":
    return sa.Column(
        name, sa.Text().with_variant(sa.Text(collation="C"), "postgresql"), nullable=False
    )


def _numbers(*names: str) -> "list[sa.Column[int]]":
    return [sa.Column(name, sa.BigInteger(), nullable=False) for name in names]


def _reals(*names: str, nullable: bool) -> "list[sa.Column[float]]":
    return [sa.Column(name, sa.Double(), nullable=nullable) for name in names]


def _rolled_up(name: str, step: str) -> None:
    op.create_table(
        name,
        _code("room"),
        *_numbers(step, "readings", "c_us", "humidity_us", "both_us"),
        *_reals(
            "area_c_h",
            "area_pct_h",
            "dew_c_h",
            "deficit_kpa_h",
            "kinetic_h",
            "degree_c_h",
            nullable=False,
        ),
        *_numbers("cold_us", "too_cold_us", "too_warm_us", "too_dry_us", "too_damp_us"),
        *_reals("least_c", "most_c", "least_pct", "most_pct", nullable=True),
        *(
            sa.Column(packed, sa.LargeBinary(), nullable=False)
            for packed in ("c_spread", "humidity_spread", "spells", "unseen")
        ),
        sa.PrimaryKeyConstraint("room", step, name=f"pk_{name}"),
        sqlite_with_rowid=False,
    )


def upgrade() -> None:
    """Make the six tables."""
    op.create_table(
        "readings",
        _code("sensor"),
        *_numbers("at_us"),
        sa.Column("c_milli", sa.Integer(), nullable=True),
        sa.Column("humidity_milli", sa.Integer(), nullable=True),
        *_numbers("recorded_us"),
        sa.PrimaryKeyConstraint("sensor", "at_us", name="pk_readings"),
        sqlite_with_rowid=False,
    )
    _rolled_up("air_hours", "hour")
    _rolled_up("air_days", "day")
    op.create_table(
        "air_due",
        _code("room"),
        *_numbers("from_hour", "until_hour"),
        sa.PrimaryKeyConstraint("room", "from_hour", name="pk_air_due"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "doubts",
        _code("sensor"),
        *_numbers("from_us"),
        sa.Column("kind", sa.Text(), nullable=False),
        *_numbers("until_us"),
        sa.Column("detail", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("sensor", "from_us", "kind", name="pk_doubts"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "doubts_due",
        _code("sensor"),
        *_numbers("from_hour", "until_hour"),
        sa.PrimaryKeyConstraint("sensor", "from_hour", name="pk_doubts_due"),
        sqlite_with_rowid=False,
    )
