"""A service on a fresh database of each sort, its clock standing still."""

from collections.abc import Iterator
from contextlib import closing

import pytest

from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.service import Service
from rindline_server.store import Store
from tests.service.callers import ANSWER_S
from tests.service.dairy import NOW


@pytest.fixture
def store(database_url: str) -> Iterator[Store]:
    with closing(Store(database_url)) as store:
        yield store


@pytest.fixture
def service(store: Store) -> Iterator[Service]:
    service = Service(store, lambda: NOW, ScaleTolerance())
    service.start()
    yield service
    service.stop(ANSWER_S)
