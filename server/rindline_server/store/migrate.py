"""Migrations: bringing a database to the newest revision.

There is no way back down: a downgrade would have to throw away what was recorded since. Go back
by restoring a copy.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, NullPool, create_engine, event, text

from rindline_server.store.condition import NEWEST_REVISION
from rindline_server.store.database import normal_url
from rindline_server.store.guards import install_guards

__all__ = ["current", "is_current", "revisions", "upgrade"]

_FOLDER = Path(__file__).parent / "migrations"

# Any number will do, as long as all our versions use the same.
_ADVISORY_LOCK = 7_204_519


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    # Config reads "%" as the start of a variable.
    config.set_main_option("script_location", str(_FOLDER).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def _script() -> ScriptDirectory:
    return ScriptDirectory.from_config(_config())


@contextmanager
def _connected(url: str) -> Iterator[Connection]:
    """Hold one transaction that no other migration can come between."""
    wanted = normal_url(url)
    sqlite = wanted.get_backend_name() == "sqlite"
    engine = create_engine(
        wanted,
        poolclass=NullPool,
        connect_args={"isolation_level": None, "timeout": 60.0} if sqlite else {},
    )
    if sqlite:
        event.listen(engine, "begin", lambda c: c.exec_driver_sql("BEGIN IMMEDIATE"))

        def prepare(connection: object, _record: object) -> None:
            cursor = connection.cursor()  # type: ignore[attr-defined]
            cursor.execute("PRAGMA journal_mode = WAL")
            cursor.execute("PRAGMA synchronous = FULL")
            cursor.close()

        event.listen(engine, "connect", prepare)
    try:
        with engine.begin() as connection:
            if not sqlite:
                connection.execute(text(f"SELECT pg_advisory_xact_lock({_ADVISORY_LOCK})"))
            yield connection
    finally:
        engine.dispose()


def revisions() -> list[str]:
    """Give all revisions, oldest first."""
    return [script.revision for script in _script().walk_revisions()][::-1]


def _current(connection: Connection) -> str | None:
    return MigrationContext.configure(connection).get_current_revision()


def current(url: str) -> str | None:
    """Give the revision a database is at; None if it has no table of ours."""
    with _connected(url) as connection:
        return _current(connection)


def is_current(url: str) -> bool:
    """Tell whether a database is at the newest revision."""
    return current(url) == NEWEST_REVISION


def upgrade(url: str, revision: str = "head") -> None:
    """Bring a database to the newest revision (or another), all in one transaction.

    Whichever revisions were gone through, the guards stand afterwards. Safe to call by several
    processes at once, and when there is nothing to do.
    """
    with _connected(url) as connection:
        command.upgrade(_config(connection), revision)
        install_guards(connection)
