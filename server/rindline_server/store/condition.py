"""Whether a database is fit to be used: at the newest revision, and guarded."""

from sqlalchemy import Connection, inspect, text

from rindline_server.store.guards import missing_guards

__all__ = ["NEWEST_REVISION", "amiss"]

NEWEST_REVISION = "0004"
"""The revision this version of the server works with; said here so that a server starts without
loading what migrates."""


def amiss(connection: Connection) -> str | None:
    """Say what keeps a database from being used, or give None."""
    if not inspect(connection).has_table("alembic_version"):
        return "the database is empty: it was never migrated"
    at = connection.scalar(text("SELECT version_num FROM alembic_version"))
    if at != NEWEST_REVISION:
        return f"the database is at revision {at}, this server works with {NEWEST_REVISION}"
    missing = missing_guards(connection)
    if missing:
        return f"guards are missing in the database: {', '.join(missing)}"
    return None
