"""Records of two sizes on either database, filled once: the larger goes on from the smaller.

They are filled through the service, as a server would: the same rules, statements and commits,
only in batches as large as the writer takes and without HTTP between.
"""

import shutil
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from random import Random
from typing import NamedTuple

from sqlalchemy.engine import URL

from rindline_schema.answers import Outcome, Refused
from rindline_schema.events import Event
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.clock import now
from rindline_server.service import Caller, Service
from rindline_server.store import Store
from tests.bench.bare import connect_postgres
from tests.bench.story import LOTS_A_MAKE, Story
from tests.databases import Lease, PostgresDatabases, migrated_sqlite, postgres_server

__all__ = ["DATABASES", "Maker", "PostgresMaker", "Record", "SqliteMaker", "makers", "two_records"]

DATABASES = ("sqlite", "postgresql")

_BATCH_EVENTS = 200
_BATCHES_WAITING = 8
_STOP_S = 60.0
_FILLER = Caller(key="rindline_filler", name="filler", role="manager")

_Say = Callable[[str], None]
_Fill = Callable[[list[Event]], None]


class Record(NamedTuple):
    """A filled database: a key, the story it tells, portions of all times, wheels still ripening.

    ``story.tank`` is the delivery with the long trace; ``story`` has gone on since.
    """

    url: URL
    lots: int
    key: str
    story: Story
    portions: list[str]
    wheels: list[str]


class Maker:
    """Makes databases of one sort."""

    dialect: str

    def fresh(self) -> URL:
        """Give a database at the newest revision, nothing told."""
        raise NotImplementedError

    def copy(self, original: URL) -> URL:
        """Give a copy of a database nobody is connected to."""
        raise NotImplementedError

    def settle(self, url: URL) -> None:
        """Do what the database does by itself in a quiet hour."""


class SqliteMaker(Maker):
    """SQLite files in a folder."""

    dialect = "sqlite"

    def __init__(self, lease: Lease, folder: Path) -> None:
        self._lease = lease
        self._folder = folder
        self._serial = count()

    def _path(self) -> Path:
        return self._folder / f"record-{next(self._serial)}.db"

    def fresh(self) -> URL:
        """Give a migrated file."""
        return migrated_sqlite(self._lease.folder, self._path())

    def copy(self, original: URL) -> URL:
        """Copy the file; once nobody is connected, all is in it."""
        path = self._path()
        assert original.database is not None
        assert not Path(f"{original.database}-wal").exists(), "somebody is still connected"
        shutil.copyfile(original.database, path)
        return original.set(database=str(path))


class PostgresMaker(Maker):
    """Databases on a server that waits for the disk at each commit."""

    dialect = "postgresql"

    def __init__(self, lease: Lease) -> None:
        self._server = postgres_server(lease.folder, "durable")
        self._databases = PostgresDatabases(self._server, lease.folder)

    def fresh(self) -> URL:
        """Give a migrated database."""
        return self._databases.migrated()

    def copy(self, original: URL) -> URL:
        """Copy the database by its files."""
        return self._databases.copied(original)

    def settle(self, url: URL) -> None:
        """Clean up and count, as autovacuum would within minutes."""
        with connect_postgres(url) as connection:
            connection.execute("VACUUM (ANALYZE)")
            connection.execute("CHECKPOINT")

    def close(self) -> None:
        """Drop all that was made."""
        self._databases.drop_all()


@contextmanager
def makers(folder: Path, dialects: tuple[str, ...]) -> Iterator[list[Maker]]:
    """Hold what makes databases of these sorts; all made is gone afterwards."""
    with Lease(shared=False) as lease:
        made: list[Maker] = []
        postgres = PostgresMaker(lease) if "postgresql" in dialects else None
        if "sqlite" in dialects:
            made.append(SqliteMaker(lease, folder))
        if postgres is not None:
            made.append(postgres)
        try:
            yield made
        finally:
            if postgres is not None:
                postgres.close()


def two_records(
    maker: Maker, sizes: tuple[int, int], needs: tuple[int, int], say: _Say
) -> tuple[Record, Record]:
    """Fill a record, keep a copy, and fill on: both begin alike.

    ``needs``: how many wheels must still ripen in each, and how many portions to name.
    """
    small, large = sizes
    story = Story(tank_makes=max(1, min(39, small // 2 // LOTS_A_MAKE)))
    growing = maker.fresh()
    portions: list[str] = []
    with _filling(growing) as fill:
        fill(story.opening())
        _grow(story, small, portions, fill, say)
    copy = maker.copy(growing)
    smaller = _finish(maker, copy, story, portions, needs)
    with _filling(growing) as fill:
        _grow(story, large, portions, fill, say)
    return smaller, _finish(maker, growing, story, portions, needs)


def _grow(story: Story, lots: int, portions: list[str], fill: _Fill, say: _Say) -> None:
    told = story.lots
    makes = story.makes()
    while story.lots < lots:
        events, newest = next(makes)
        fill(events)
        portions += newest
        if story.lots - told >= 50_000:
            told = story.lots
            say(f"{told:,} lots")


def _finish(
    maker: Maker, url: URL, story: Story, portions: list[str], needs: tuple[int, int]
) -> Record:
    lots = story.lots
    wheels, events = story.shelf(needs[0])
    with _filling(url) as fill:
        fill(events)
    with _service(url) as service:
        key = service.add_key("bench", "manager")
    maker.settle(url)
    named = Random("portions").sample(portions, min(needs[1], len(portions)))
    return Record(url, lots, key, story, named, wheels)


@contextmanager
def _service(url: URL) -> Iterator[Service]:
    store = Store(url.render_as_string(hide_password=False))
    service = Service(store, now, ScaleTolerance())
    service.start()
    try:
        yield service
    finally:
        service.stop(_STOP_S)
        store.close()


@contextmanager
def _filling(url: URL) -> Iterator[_Fill]:
    """Give what tells events, many at a time; on leaving all of them are on disk."""
    waiting: deque[Future[list[Outcome]]] = deque()
    ready: list[Event] = []

    def send(service: Service) -> None:
        waiting.append(service.tell(_FILLER, list(ready)))
        ready.clear()
        while len(waiting) > _BATCHES_WAITING:
            _check(waiting.popleft().result())

    with _service(url) as service:

        def fill(events: list[Event]) -> None:
            ready.extend(events)
            if len(ready) >= _BATCH_EVENTS:
                send(service)

        yield fill
        send(service)
        for future in waiting:
            _check(future.result())


def _check(outcomes: list[Outcome]) -> None:
    for outcome in outcomes:
        if isinstance(outcome, Refused) or outcome.warnings:
            message = f"the invented record does not hold together: {outcome}"
            raise RuntimeError(message)
