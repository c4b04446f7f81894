"""Reaching into a database past the store, to look at it or to do it harm."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, NullPool, create_engine, text

from rindline_server.store.tables import APPEND_ONLY, DERIVED, METADATA

__all__ = ["direct", "emptied", "rows", "table_rows", "without_guards"]


@contextmanager
def direct(url: str) -> Iterator[Connection]:
    """A connection of one's own, committed at the end."""
    engine = create_engine(url, poolclass=NullPool)
    with engine.begin() as connection:
        yield connection
    engine.dispose()


def rows(url: str, statement: str, **parameters: Any) -> Sequence[tuple[Any, ...]]:
    """What a statement answers."""
    with direct(url) as connection:
        return [tuple(row) for row in connection.execute(text(statement), parameters)]


def table_rows(url: str) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every derived table, in an order of no meaning."""
    with direct(url) as connection:
        return {
            table.name: sorted((tuple(row) for row in connection.execute(table.select())), key=repr)
            for table in DERIVED
        }


@contextmanager
def without_guards(url: str) -> Iterator[Connection]:
    """A connection that may change the ledger, as somebody with the owner's password could."""
    with direct(url) as connection:
        if connection.dialect.name == "sqlite":
            found = connection.execute(
                text("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            )
            for name in found.scalars().all():
                connection.execute(text(f"DROP TRIGGER {name}"))
        else:
            for table in APPEND_ONLY:
                connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER ALL"))
        yield connection


def emptied(url: str) -> None:
    """Take everything out again, as if nothing had ever been told."""
    with without_guards(url) as connection:
        for table in METADATA.tables.values():
            if table.name != "head":
                connection.execute(table.delete())
        head = METADATA.tables["head"]
        nothing = {"seq": 0, "hash": bytes(32), "next_lot_id": 1, "register_seq": 0}
        connection.execute(head.update().values(nothing))
