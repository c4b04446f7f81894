"""What every test may ask for: databases of either sort, fresh for each test."""

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path

import hypothesis
import pytest
from sqlalchemy.engine import URL

from tests.databases import (
    Kind,
    Lease,
    PostgresDatabases,
    migrated_sqlite,
    postgres_server,
    session_folder,
    sqlite_url,
)

# No test is judged by the clock, and a failing example must be repeatable from what is printed.
hypothesis.settings.register_profile(
    "rindline",
    deadline=None,
    print_blob=True,
    suppress_health_check=[hypothesis.HealthCheck.too_slow],
)
hypothesis.settings.load_profile("rindline")

_LEASE = pytest.StashKey[Lease]()
_SORTS = [
    pytest.param("sqlite", id="sqlite"),
    pytest.param("postgresql", id="postgresql", marks=pytest.mark.postgres),
]


def pytest_configure(config: pytest.Config) -> None:
    """Hold the session's database servers in the one process that sees the whole session."""
    if not hasattr(config, "workerinput"):
        config.stash[_LEASE] = Lease(shared=True)


def pytest_unconfigure(config: pytest.Config) -> None:
    """Leave nothing running."""
    if _LEASE in config.stash:
        config.stash[_LEASE].close()


@pytest.fixture(scope="session")
def postgres_databases() -> Iterator[Callable[[Kind], PostgresDatabases]]:
    """Gives the maker of PostgreSQL databases of a kind; starts a server when first asked."""
    makers: dict[Kind, PostgresDatabases] = {}

    def maker(kind: Kind) -> PostgresDatabases:
        if kind not in makers:
            folder = session_folder()
            makers[kind] = PostgresDatabases(postgres_server(folder, kind), folder)
        return makers[kind]

    yield maker
    for made in makers.values():
        made.close()


@pytest.fixture
def postgres_maker(
    request: pytest.FixtureRequest, postgres_databases: Callable[[Kind], PostgresDatabases]
) -> Callable[[], PostgresDatabases]:
    """Gives the maker whose commits reach the disk if the test is marked `durable`."""
    kind: Kind = "durable" if request.node.get_closest_marker("durable") else "quick"
    return lambda: postgres_databases(kind)


@pytest.fixture(params=_SORTS)
def database_url(
    request: pytest.FixtureRequest,
    tmp_path: Path,
    postgres_maker: Callable[[], PostgresDatabases],
) -> Iterator[str]:
    """The URL of a fresh database at the newest revision, nothing told; once on each sort."""
    if request.param == "sqlite":
        yield _text(migrated_sqlite(session_folder(), tmp_path / "record.db"))
    else:
        with _dropped(postgres_maker(), PostgresDatabases.migrated) as url:
            yield url


@pytest.fixture(params=_SORTS)
def empty_database_url(
    request: pytest.FixtureRequest,
    tmp_path: Path,
    postgres_maker: Callable[[], PostgresDatabases],
) -> Iterator[str]:
    """The URL of a fresh database without a table; once on each sort."""
    if request.param == "sqlite":
        yield _text(sqlite_url(tmp_path / "record.db"))
    else:
        with _dropped(postgres_maker(), PostgresDatabases.empty) as url:
            yield url


@contextlib.contextmanager
def _dropped(maker: PostgresDatabases, make: Callable[[PostgresDatabases], URL]) -> Iterator[str]:
    made = make(maker)
    try:
        yield _text(made)
    finally:
        maker.drop(made)


def _text(url: URL) -> str:
    return url.render_as_string(hide_password=False)
