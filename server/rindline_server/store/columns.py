"""What tables are made of: the schema they belong to, and the columns that come up often."""

from sqlalchemy import (
    BigInteger,
    Column,
    Integer,
    LargeBinary,
    MetaData,
    SmallInteger,
    Text,
)

__all__ = ["CODE", "METADATA", "NUMBER", "big", "event_id", "small", "words"]

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
"""A primary key that is one number."""

# Ranges of codes must go by their characters whatever the language of the database.
CODE = Text().with_variant(Text(collation="C"), "postgresql")
"""A lot's code."""


def big(name: str, *, primary_key: bool = False, nullable: bool = False) -> "Column[int]":
    """Make a column of numbers. None numbers itself: the writer does, under the head lock."""
    return Column(name, BigInteger, primary_key=primary_key, nullable=nullable, autoincrement=False)


def event_id(name: str, *, primary_key: bool = False, nullable: bool = False) -> "Column[bytes]":
    """Make a column of ids, 16 bytes."""
    return Column(name, LargeBinary(16), primary_key=primary_key, nullable=nullable)


def small(name: str, *, primary_key: bool = False) -> "Column[int]":
    """Make a column of small numbers, each standing for a word."""
    return Column(name, SmallInteger, primary_key=primary_key, nullable=False, autoincrement=False)


def words(name: str, *, primary_key: bool = False, nullable: bool = False) -> "Column[str]":
    """Make a column of texts."""
    return Column(name, Text, primary_key=primary_key, nullable=nullable)
