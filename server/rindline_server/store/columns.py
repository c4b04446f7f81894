"""Columns as the tables of both databases have them, and the names of constraints."""

from sqlalchemy import BigInteger, Column, Integer, LargeBinary, MetaData, SmallInteger, Text

__all__ = ["CODE", "METADATA", "NUMBER", "big", "id_column", "small", "text_column"]

METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

# "INTEGER PRIMARY KEY" is SQLite's own row number, which costs no index.
NUMBER = BigInteger().with_variant(Integer(), "sqlite")

# Ranges of codes must go by their characters whatever the language of the database.
CODE = Text().with_variant(Text(collation="C"), "postgresql")


def big(name: str, *, primary_key: bool = False, nullable: bool = False) -> "Column[int]":
    """Make a column of large whole numbers."""
    # No column numbers itself: the writer gives every number under the head lock.
    return Column(name, BigInteger, primary_key=primary_key, nullable=nullable, autoincrement=False)


def id_column(name: str, *, primary_key: bool = False, nullable: bool = False) -> "Column[bytes]":
    """Make a column of ids of 16 bytes."""
    return Column(name, LargeBinary(16), primary_key=primary_key, nullable=nullable)


def small(name: str, *, primary_key: bool = False) -> "Column[int]":
    """Make a column of small whole numbers."""
    return Column(name, SmallInteger, primary_key=primary_key, nullable=False, autoincrement=False)


def text_column(name: str, *, primary_key: bool = False, nullable: bool = False) -> "Column[str]":
    """Make a column of text."""
    return Column(name, Text, primary_key=primary_key, nullable=nullable)
