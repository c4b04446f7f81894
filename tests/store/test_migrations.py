"""Migrations: the schema they make, the guards they leave, and that they only go forward."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import DatabaseError

from rindline_server.store import Store
from rindline_server.store.condition import NEWEST_REVISION
from rindline_server.store.migrate import _config, current, is_current, revisions, upgrade
from rindline_server.store.tables import APPEND_ONLY, METADATA
from tests.store.databases import direct, rows

_ROWS = {
    "ledger": {
        "seq": 1,
        "id": b"i" * 16,
        "replacement_id": None,
        "station": "scale",
        "recorded_us": 1,
        "told_hash": b"t" * 32,
        "body": b"{}",
        "answer": b"{}",
        "hash": b"h" * 32,
    },
    "drills": {
        "id": b"i" * 16,
        "asked_us": 1,
        "asked_by": "manager",
        "as_of": 0,
        "request": b"{}",
        "answer": b"{}",
    },
    "readings": {
        "sensor": "T-1",
        "at_us": 1,
        "c_milli": 11_250,
        "humidity_milli": None,
        "recorded_us": 2,
    },
}


def _catalogue(connection: Connection) -> Iterator[str]:
    """What the database itself says of every table and index, but for those of Alembic."""
    if connection.dialect.name == "sqlite":
        statement = (
            "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND type IN ('table', 'index') "
            "AND tbl_name <> 'alembic_version'"
        )
        for (sql,) in connection.execute(text(statement)):
            words = sql.replace(", ", ",").replace("(", " ( ").replace(")", " ) ").split()
            head, _, rest = " ".join(words).partition(" ( ")
            # The order in which a table's constraints are listed means nothing.
            yield head + " " + " ".join(sorted(rest.split(",")))
        return
    statement = (
        "SELECT concat_ws(' ', table_name, column_name, ordinal_position, column_default, "
        "is_nullable, data_type, collation_name, is_identity) FROM information_schema.columns "
        "WHERE table_schema = 'public' AND table_name <> 'alembic_version' UNION ALL "
        "SELECT indexdef FROM pg_indexes WHERE schemaname = 'public' "
        "AND tablename <> 'alembic_version' UNION ALL "
        "SELECT conrelid::regclass || ' ' || conname || ' ' || pg_get_constraintdef(oid) "
        "FROM pg_constraint WHERE connamespace = 'public'::regnamespace "
        "AND conrelid <> 'alembic_version'::regclass"
    )
    yield from connection.execute(text(statement)).scalars()


def test_migrated_schema_is_the_one_the_statements_are_written_for(empty_database_url: str) -> None:
    """The tables as described make the very schema that the migrations make: columns, types,
    indexes with their conditions, names of constraints; Alembic sees no difference either."""
    with direct(empty_database_url) as connection:
        METADATA.create_all(connection)
        connection.execute(text("CREATE TABLE alembic_version (version_num VARCHAR(32))"))
        described = sorted(_catalogue(connection))
        METADATA.drop_all(connection)
        connection.execute(text("DROP TABLE alembic_version"))
    upgrade(empty_database_url)
    with direct(empty_database_url) as connection:
        context = MigrationContext.configure(
            connection, opts={"compare_type": True, "compare_server_default": True}
        )
        assert compare_metadata(context, METADATA) == []
        migrated = sorted(_catalogue(connection))
    assert len(migrated) > len(METADATA.tables)
    assert migrated == described


def test_every_constraint_has_a_name() -> None:
    """SQLite can only change a constraint that has a name, so none may be left without."""
    constraints = [c for table in METADATA.tables.values() for c in table.constraints]
    assert len(constraints) > len(METADATA.tables)
    assert [c for c in constraints if c.name is None] == []


def test_the_server_works_with_the_newest_revision() -> None:
    """The revision the server looks for at its start is the last there is, and each revision
    follows on one before it, in one line."""
    assert revisions()[-1] == NEWEST_REVISION
    assert len(set(revisions())) == len(revisions())


def test_migrating_twice_or_at_once_does_no_harm(empty_database_url: str) -> None:
    """Several servers that start together all migrate; one does the work, the others find it
    done. What is there stays."""
    assert current(empty_database_url) is None
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(upgrade, [empty_database_url] * 4))
    assert is_current(empty_database_url)
    with direct(empty_database_url) as connection:
        connection.execute(METADATA.tables["ledger"].insert(), [_ROWS["ledger"]])
    upgrade(empty_database_url)
    assert rows(empty_database_url, "SELECT seq, station FROM ledger") == [(1, "scale")]
    assert len(rows(empty_database_url, "SELECT seq FROM head")) == 1


def test_there_is_no_way_back_down() -> None:
    """A downgrade would throw away what was recorded since: no revision has one."""
    scripts = list(ScriptDirectory.from_config(_config()).walk_revisions())
    assert len(scripts) == len(revisions())
    for script in scripts:
        assert not hasattr(script.module, "downgrade")


@pytest.mark.parametrize("revision", revisions())
@pytest.mark.parametrize("table", APPEND_ONLY)
def test_rows_written_at_any_revision_are_guarded_ever_after(
    empty_database_url: str, revision: str, table: str
) -> None:
    """From whichever revision a database comes: once migrated, no row of an append-only table
    can be changed or removed, and all of them are still there."""
    upgrade(empty_database_url, revision)
    with direct(empty_database_url) as connection:
        if table not in inspect(connection).get_table_names():
            pytest.skip("this revision does not have the table yet")
        columns = {c["name"] for c in inspect(connection).get_columns(table)}
        row = {name: value for name, value in _ROWS[table].items() if name in columns}
        connection.execute(
            text(
                f"INSERT INTO {table} ({', '.join(row)}) VALUES "
                f"({', '.join(f':{name}' for name in row)})"
            ),
            row,
        )
    _assert_guarded(empty_database_url, table)
    upgrade(empty_database_url)
    _assert_guarded(empty_database_url, table)


def _assert_guarded(url: str, table: str) -> None:
    before = rows(url, f"SELECT * FROM {table}")
    assert len(before) == 1
    names = [column.name for column in METADATA.tables[table].primary_key]
    key = names[0]
    statements = [
        f"UPDATE {table} SET {key} = {key}",
        f"DELETE FROM {table}",
        f"DELETE FROM {table} WHERE {key} IS NOT NULL",
        (
            f"INSERT INTO {table} SELECT * FROM {table} WHERE true "
            f"ON CONFLICT ({', '.join(names)}) DO UPDATE SET {key} = excluded.{key}"
        ),
    ]
    if url.startswith("postgresql"):
        statements += [
            f"TRUNCATE {table}",
            f"SET session_replication_role = replica; {statements[1]}",
        ]
    for statement in statements:
        with pytest.raises(DatabaseError, match="append-only"), direct(url) as connection:
            connection.execute(text(statement))
    assert rows(url, f"SELECT * FROM {table}") == before


def test_a_store_says_what_its_database_lacks(empty_database_url: str) -> None:
    """A server must not start on a database that isn't migrated, or whose guards are gone."""
    with closing(Store(empty_database_url)) as store:
        assert "never migrated" in (store.check() or "")
        upgrade(empty_database_url)
        assert store.check() is None
        with direct(empty_database_url) as connection:
            guard = "TRIGGER ledger_refuses_update"
            if connection.dialect.name == "sqlite":
                connection.execute(text(f"DROP {guard}"))
            else:
                connection.execute(text(f"ALTER TABLE ledger DISABLE {guard}"))
        assert "ledger_refuses_update" in (store.check() or "")
        upgrade(empty_database_url)
        assert store.check() is None
        with direct(empty_database_url) as connection:
            connection.execute(text("UPDATE alembic_version SET version_num = 'later'"))
        assert "later" in (store.check() or "")


def test_a_database_that_cannot_be_reached_is_no_crash() -> None:
    """A server whose database is away says so when asked whether it is ready."""
    with closing(Store("postgresql://nobody@127.0.0.1:1/nothing")) as store:
        assert "can't be reached" in (store.check() or "")


@pytest.mark.parametrize("url", ["sqlite://", "sqlite:///:memory:", "mysql://localhost/x"])
def test_databases_that_cannot_hold_a_record_are_refused(url: str) -> None:
    """A database in memory is gone with its connection, and others are not supported."""
    with pytest.raises(ValueError, match=r"file|neither"):
        Store(url)
