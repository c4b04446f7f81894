"""Statements that change many rows of a table at once.

SQLite takes them row by row inside one call of the driver; PostgreSQL takes the columns as
arrays, in one statement and one round trip.
"""

from collections.abc import Iterable, Sequence
from functools import cache

from sqlalchemy import Dialect, Table
from sqlalchemy.dialects import postgresql

__all__ = ["copied", "delete", "find", "insert", "put", "put_larger", "void"]

_POSTGRES: Dialect = postgresql.dialect()  # type: ignore[no-untyped-call]


def _names(table: Table) -> list[str]:
    return [column.name for column in table.columns]


def _type(table: Table, name: str) -> str:
    # Without the collation of a text, which is the column's and not the value's.
    kind = table.columns[name].type.compile(dialect=_POSTGRES)
    return kind.partition(" COLLATE ")[0].lower()


def _arrays(table: Table, names: Iterable[str]) -> str:
    # An array has no collation: it is the column's that counts.
    types = [
        table.columns[name].type.compile(dialect=_POSTGRES).partition(" COLLATE ")[0]
        for name in names
    ]
    return ", ".join(f"%s::{kind}[]" for kind in types)


def _on_conflict(table: Table) -> str:
    key = ", ".join(column.name for column in table.primary_key)
    changes = ", ".join(
        f"{column.name} = excluded.{column.name}"
        for column in table.columns
        if not column.primary_key
    )
    return f"ON CONFLICT ({key}) DO " + (f"UPDATE SET {changes}" if changes else "NOTHING")


def _marks(where: Sequence[str]) -> str:
    return " AND ".join(f"{name} = ?" for name in where)


def _match(table: Table, where: Sequence[str]) -> str:
    return " AND ".join(f"{table.name}.{name} = given.{name}" for name in where)


@cache
def insert(dialect: str, table: Table) -> str:
    """Give the statement that adds whole rows, columns in the table's order."""
    names = _names(table)
    into = f"INSERT INTO {table.name} ({', '.join(names)})"
    if dialect == "sqlite":
        return f"{into} VALUES ({', '.join('?' * len(names))})"
    return f"{into} SELECT * FROM unnest({_arrays(table, names)})"


@cache
def copied(table: Table) -> tuple[str, tuple[str, ...]]:
    """Give PostgreSQL's statement that takes whole rows in binary form, and the columns' types."""
    names = _names(table)
    statement = f"COPY {table.name} ({', '.join(names)}) FROM STDIN (FORMAT BINARY)"
    return statement, tuple(_type(table, name) for name in names)


@cache
def find(dialect: str, table: Table) -> str:
    """Give the statement that finds rows by their primary keys.

    SQLite takes the keys as one JSON array of arrays, PostgreSQL as an array for each column.
    """
    keys = [column.name for column in table.primary_key]
    columns = ", ".join(_names(table))
    if dialect == "sqlite":
        match = " AND ".join(
            f"{key} = json_extract(given.value, '$[{place}]')" for place, key in enumerate(keys)
        )
        # CROSS JOIN keeps the order: a look into the table for each key.
        return f"SELECT {columns} FROM json_each(?) AS given CROSS JOIN {table.name} ON {match}"
    given = f"unnest({_arrays(table, keys)}) AS given ({', '.join(keys)})"
    # With a LIMIT inside, the planner can't choose to read the whole table instead.
    one = f"SELECT * FROM {table.name} WHERE {_match(table, keys)} LIMIT 1"
    return f"SELECT found.* FROM {given} CROSS JOIN LATERAL ({one}) AS found"


@cache
def put(dialect: str, table: Table) -> str:
    """Give the statement that adds whole rows or replaces those with their keys."""
    return f"{insert(dialect, table)} {_on_conflict(table)}"


@cache
def put_larger(dialect: str, table: Table) -> str:
    """Give the statement that adds (key, value) rows, or replaces smaller values by larger."""
    key, value = _names(table)
    return (
        f"{insert(dialect, table)} ON CONFLICT ({key}) DO UPDATE SET {value} = excluded.{value} "
        f"WHERE excluded.{value} > {table.name}.{value}"
    )


@cache
def void(dialect: str, table: Table, where: tuple[str, ...]) -> str:
    """Give the statement that sets ``void_seq`` on the rows in force that match.

    Its rows: the ``void_seq``, then a value for each column of ``where``.
    """
    update = f"UPDATE {table.name} SET void_seq ="
    if dialect == "sqlite":
        return f"{update} ? WHERE {_marks(where)} AND void_seq IS NULL"
    names = ("void_seq", *where)
    return (
        f"{update} given.void_seq FROM unnest({_arrays(table, names)}) "
        f"AS given ({', '.join(names)}) "
        f"WHERE {_match(table, where)} AND {table.name}.void_seq IS NULL"
    )


@cache
def delete(dialect: str, table: Table, where: tuple[str, ...]) -> str:
    """Give the statement that removes the rows that match."""
    if dialect == "sqlite":
        return f"DELETE FROM {table.name} WHERE {_marks(where)}"
    return (
        f"DELETE FROM {table.name} USING unnest({_arrays(table, where)}) "
        f"AS given ({', '.join(where)}) WHERE {_match(table, where)}"
    )
