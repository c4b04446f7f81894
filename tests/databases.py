"""Databases for tests: fresh, cheap, on SQLite and PostgreSQL, and gone afterwards.

One PostgreSQL server serves all workers of a test session. It is started by the first test that
asks for one, unless `TEST_DATABASE_URL` names a server whose account may create databases. Each
test gets a database of its own, copied from one that was migrated once.
"""

import contextlib
import fcntl
import itertools
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, Literal, Self

import psycopg
from psycopg import sql
from sqlalchemy.engine import URL, make_url

Kind = Literal["quick", "durable"]

_GUARD = Path(__file__).with_name("postgres_guard.py")
_FOLDER_VARIABLE = "RINDLINE_TEST_SESSION"
_SERVER_VARIABLE = "TEST_DATABASE_URL"
_GUARD_LIMIT_S = 90.0


class Lease:
    """Keeps a session's database servers alive: they stop when it is closed or its process dies.

    Workers of the same session find it through an environment variable.
    """

    def __init__(self, *, shared: bool) -> None:
        """Make the session's folder and hold it; `shared` tells it to processes started later."""
        # The account that runs PostgreSQL for root must be able to reach the folder.
        parent = "/tmp" if os.geteuid() == 0 else None
        self.folder = Path(tempfile.mkdtemp(prefix="rindline-test-", dir=parent))
        self.folder.chmod(0o755)
        self._alive: BinaryIO = (self.folder / "alive").open("wb")
        fcntl.flock(self._alive, fcntl.LOCK_EX)
        if shared:
            os.environ[_FOLDER_VARIABLE] = str(self.folder)

    def __enter__(self) -> Self:
        """Return the lease itself."""
        return self

    def __exit__(self, *_error: object) -> None:
        """Close the lease."""
        self.close()

    def close(self) -> None:
        """Drop what was made on a server of the user's, let the guards stop ours, wait for them."""
        if server := os.environ.get(_SERVER_VARIABLE):
            PostgresDatabases(make_url(server), self.folder).drop_all()
        self._alive.close()
        deadline = time.monotonic() + _GUARD_LIMIT_S
        # The last guard to leave may take the folder away amid the look.
        with contextlib.suppress(FileNotFoundError):
            while any(self.folder.glob("*/")) and time.monotonic() < deadline:
                time.sleep(0.01)
        shutil.rmtree(self.folder, ignore_errors=True)
        if os.environ.get(_FOLDER_VARIABLE) == str(self.folder):
            del os.environ[_FOLDER_VARIABLE]


def session_folder() -> Path:
    """The folder of the lease under which this process runs."""
    return Path(os.environ[_FOLDER_VARIABLE])


class PostgresDatabases:
    """Makes databases on one PostgreSQL server. One per process and kind; close it at the end."""

    def __init__(self, server: URL, folder: Path) -> None:
        """`server`: a database to send CREATE DATABASE from; `folder`: the lease's."""
        self._server = server
        self._lock = folder / "template.lock"
        self._prefix = f"{folder.name.replace('-', '_')}_"
        self._serial = itertools.count()
        self._connection: psycopg.Connection[tuple[str]] = psycopg.connect(
            server.set(drivername="postgresql").render_as_string(hide_password=False),
            autocommit=True,
        )

    def empty(self) -> URL:
        """A fresh database with nothing in it."""
        return self._create(self._next_name(), template="template0")

    def migrated(self) -> URL:
        """A fresh database at the newest revision, without a row told."""
        return self._create(self._next_name(), template=self._migrated_template())

    def copied(self, original: URL) -> URL:
        """A copy of a database that nobody is connected to."""
        assert original.database is not None
        return self._create(self._next_name(), template=original.database)

    def drop(self, database: URL) -> None:
        """Remove one database, whoever is still connected."""
        assert database.database is not None
        self._drop(database.database)

    def drop_all(self) -> None:
        """Remove every database made under this lease, by any process, and close."""
        names = self._connection.execute(
            "SELECT datname FROM pg_database WHERE starts_with(datname, %s)", [self._prefix]
        ).fetchall()
        for (name,) in names:
            self._drop(name)
        self.close()

    def close(self) -> None:
        """Give the connection back; the databases stay."""
        self._connection.close()

    def _next_name(self) -> str:
        return f"{self._prefix}{os.getpid()}_{next(self._serial)}"

    def _create(self, name: str, *, template: str) -> URL:
        # FILE_COPY is three times as quick as the default where nothing waits for the disk.
        statement = sql.SQL("CREATE DATABASE {} TEMPLATE {} STRATEGY FILE_COPY")
        self._connection.execute(statement.format(sql.Identifier(name), sql.Identifier(template)))
        return self._server.set(database=name)

    def _drop(self, name: str) -> None:
        statement = sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)")
        self._connection.execute(statement.format(sql.Identifier(name)))

    def _migrated_template(self) -> str:
        finished, unfinished = f"{self._prefix}template", f"{self._prefix}unfinished"
        with locked(self._lock):
            found = self._connection.execute(
                "SELECT datname FROM pg_database WHERE datname = %s", [finished]
            ).fetchone()
            if found is None:
                self._drop(unfinished)
                _upgrade(self._create(unfinished, template="template0"))
                rename = sql.SQL("ALTER DATABASE {} RENAME TO {}")
                self._connection.execute(
                    rename.format(sql.Identifier(unfinished), sql.Identifier(finished))
                )
        return finished


def sqlite_url(path: Path) -> URL:
    """The URL of an SQLite file."""
    return URL.create("sqlite", database=str(path))


def migrated_sqlite(folder: Path, path: Path) -> URL:
    """Put a fresh SQLite database at the newest revision at `path`; `folder` is the lease's."""
    template = folder / "template.db"
    with locked(folder / "sqlite.lock"):
        if not template.exists():
            unfinished = folder / "unfinished.db"
            unfinished.unlink(missing_ok=True)
            _upgrade(sqlite_url(unfinished))
            assert not unfinished.with_name("unfinished.db-wal").exists(), "left open by upgrade"
            unfinished.rename(template)
    shutil.copyfile(template, path)
    return sqlite_url(path)


def postgres_server(folder: Path, kind: Kind) -> URL:
    """A PostgreSQL server under the lease in `folder`, started if none runs yet.

    `durable` waits for the disk at each commit, as a real one does; `quick` never does. A server
    named by `TEST_DATABASE_URL` stands for both.
    """
    if server := os.environ.get(_SERVER_VARIABLE):
        return make_url(server).set(drivername="postgresql+psycopg")
    host = folder / kind / "host"
    with locked(folder / f"{kind}.lock"):
        if not host.exists():
            _start_guard(folder, kind, host)
    return URL.create(
        "postgresql+psycopg",
        username="postgres",
        database="postgres",
        query={"host": host.read_text()},
    )


def _start_guard(folder: Path, kind: Kind, host: Path) -> None:
    """Start a guard that outlives this worker, and return when its server answers."""
    complaint = folder / f"{kind}.log"
    to_log = (os.POSIX_SPAWN_OPEN, 2, str(complaint), os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
    guard = os.posix_spawn(
        sys.executable,
        [sys.executable, str(_GUARD), str(folder), kind],
        os.environ,
        file_actions=[
            (os.POSIX_SPAWN_OPEN, 0, os.devnull, os.O_RDONLY, 0),
            (os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0),
            to_log,
        ],
        setsid=True,
    )
    while not host.exists():
        ended, _status = os.waitpid(guard, os.WNOHANG)
        if ended:
            message = f"the test database server did not start:\n{complaint.read_text()}"
            raise RuntimeError(message)
        time.sleep(0.01)


def _upgrade(url: URL) -> None:
    # Imported late: tests that need no database must not load the store.
    from rindline_server.store.migrate import upgrade  # noqa: PLC0415

    upgrade(url.render_as_string(hide_password=False))


@contextlib.contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold a lock between processes."""
    with path.open("ab") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield
