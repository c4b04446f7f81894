"""The whole application on a real record, in this process, every reply checked."""

from collections.abc import Iterator

import pytest

from tests.contract.record import Record
from tests.databases import migrated_sqlite, session_folder


@pytest.fixture
def record(database_url: str) -> Iterator[Record]:
    """An empty record on either database."""
    with Record(database_url) as record:
        yield record


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    """The story, told to a record that all tests of a module share."""
    file = tmp_path_factory.mktemp("told") / "record.db"
    with Record(str(migrated_sqlite(session_folder(), file))) as record:
        record.tell_story()
        yield record
