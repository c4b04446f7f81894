"""Guards: triggers that refuse to change or remove a row of an append-only table.

They are no part of the tables' own description, and altering a table on SQLite (which copies it)
drops them without a word. So they are put in place again after every migration, and looked for
when the server starts.
"""

from sqlalchemy import Connection, inspect, text

from rindline_server.store.tables import APPEND_ONLY

__all__ = ["install_guards", "missing_guards"]

_FUNCTION = """
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is append-only', TG_TABLE_NAME
        USING ERRCODE = 'integrity_constraint_violation';
END $$
"""


def _names(dialect: str, table: str) -> list[str]:
    kinds = ("update", "delete") if dialect == "sqlite" else ("update", "delete", "truncate")
    return [f"{table}_refuses_{kind}" for kind in kinds]


def install_guards(connection: Connection) -> None:
    """Put every guard in place, whether or not it is there already."""
    dialect = connection.dialect.name
    if dialect == "postgresql":
        connection.execute(text(_FUNCTION))
    there = inspect(connection).get_table_names()
    for table in APPEND_ONLY:
        # An older revision may lack a table.
        for name in _names(dialect, table) if table in there else ():
            kind = name.rpartition("_")[2].upper()
            if dialect == "sqlite":
                connection.execute(text(f"DROP TRIGGER IF EXISTS {name}"))
                connection.execute(
                    text(
                        f"CREATE TRIGGER {name} BEFORE {kind} ON {table} "
                        f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
                    )
                )
            else:
                each = "STATEMENT" if kind == "TRUNCATE" else "ROW"
                connection.execute(
                    text(
                        f"CREATE OR REPLACE TRIGGER {name} BEFORE {kind} ON {table} "
                        f"FOR EACH {each} EXECUTE FUNCTION refuse_change()"
                    )
                )
                # Also against sessions that replicate.
                connection.execute(text(f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {name}"))


def missing_guards(connection: Connection) -> list[str]:
    """Give the names of the guards that are missing or switched off."""
    dialect = connection.dialect.name
    found = connection.execute(
        text(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
            if dialect == "sqlite"
            else "SELECT tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "WHERE c.relnamespace = to_regnamespace(current_schema()) AND tgenabled = 'A'"
        )
    )
    there = set(found.scalars())
    return [name for table in APPEND_ONLY for name in _names(dialect, table) if name not in there]
