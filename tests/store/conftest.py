"""A store on a fresh database of each sort, and one to which a whole history was told."""

from collections.abc import Iterator
from contextlib import closing
from typing import NamedTuple

import pytest

from rindline_server.ledger.apply import Context
from rindline_server.ledger.world import World
from rindline_server.store import Store
from tests.histories.dairy import History, random_history
from tests.histories.telling import context, tell_until_all_stand
from tests.store.telling import batches, tell


class Told(NamedTuple):
    """A store, the history told to it, and the same history told to the pure rules."""

    store: Store
    history: History
    world: World
    context: Context


@pytest.fixture
def store(database_url: str) -> Iterator[Store]:
    with closing(Store(database_url)) as store:
        yield store


@pytest.fixture(params=[11, 20])
def told(store: Store, request: pytest.FixtureRequest) -> Told:
    history = random_history(request.param, 400)
    now = context(history.until)
    for some in batches([*history.setup, *history.events], 50):
        assert tell(store, some, now) == []
    world, refusals = tell_until_all_stand(history, history.events)
    assert refusals == []
    return Told(store, history, world, now)
