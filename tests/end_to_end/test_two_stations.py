"""Two stations cut the same wheel at the same moment: never more comes out than was in it."""

import threading
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import Any

import pytest

from rindline import Client, RetryPolicy
from rindline.errors import RefusedError
from rindline_schema.answers import Refused, Told
from rindline_schema.events import Cut, Event, Receive
from rindline_schema.params import DiscrepancyParams, TraceParams
from rindline_schema.problems import Problem
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.service import ProblemError, Service
from rindline_server.store import Store
from rindline_server.store.postgres_link import PostgresLink
from rindline_server.store.sqlite_link import SqliteLink
from rindline_server.store.writing import WriteTransaction
from tests.end_to_end.race import Race, Station
from tests.http.serving import Serving, add_key, serving
from tests.service.callers import ANSWER_S, MANAGER, recorded
from tests.service.dairy import NOW, Dairy

_ONCE = RetryPolicy(max_attempts=1)
_MEET_S = 0.3


@contextmanager
def _two_servers(database_url: str, folder: Path) -> Iterator[Sequence[Serving]]:
    with ExitStack() as servers:
        started = []
        for name in ("first", "second"):
            (folder / name).mkdir()
            started.append(servers.enter_context(serving(database_url, folder / name)))
        yield started


def _milk_of(events: Sequence[Event]) -> str:
    milk = events[0]
    assert isinstance(milk, Receive)
    assert milk.lot is not None
    return milk.lot


def _over_http(client: Client) -> Station:
    def tell(cut: Cut) -> Told | Problem:
        try:
            return client.tell(cut)
        except RefusedError as error:
            return error.problem

    return tell


@pytest.mark.slow
@pytest.mark.parametrize(
    ("wheels", "stations", "piece_g"), [(300, 2, 2_500), (20, 16, 700)], ids=["300x2", "20x16"]
)
def test_no_wheel_gives_more_than_it_has(
    database_url: str, tmp_path: Path, wheels: int, stations: int, piece_g: int
) -> None:
    """Over HTTP to two servers on one database, half of the stations at each.

    Of 4,000 g one piece of 2,500 g fits, or five of 700 g: just as many are accepted, and the
    others are told `not_enough` with the 1,500 or 500 g left.
    """
    dairy = Dairy()
    events, codes = dairy.wheels(wheels)
    key = add_key(database_url, "manager")
    race = Race(codes, wheel_g=4_000, piece_g=piece_g)
    assert 0 < race.fits < stations
    with _two_servers(database_url, tmp_path) as servers, ExitStack() as stack:
        clients = [
            stack.enter_context(Client(servers[i % 2].url, key, retries=_ONCE))
            for i in range(stations)
        ]
        assert all(isinstance(o, Told) for o in clients[0].tell_many([*dairy.declared(), *events]))
        race.run(dairy, [_over_http(client) for client in clients])
        assert race.wrongs(stations, clients[0].trace(_milk_of(events), "forward")) == []
        # What one server recorded, the other knows.
        last = [client.feed_page(0, limit=1).as_of for client in clients[:2]]
        assert last[0] == last[1] == len(dairy.declared()) + len(events) + wheels * race.fits
        assert list(clients[0].discrepancies()) == []
    with closing(Store(database_url)) as store:
        service = Service(store, lambda: NOW, ScaleTolerance())
        assert service.verify(lambda _done, _of: None).fault is None
        assert service.rebuild(lambda _done, _of: None, check=True).differences == []


# --- the guard itself ---------------------------------------------------------------------------


def _in_process(service: Service) -> Station:
    def tell(cut: Cut) -> Told | Problem:
        try:
            (outcome,) = service.tell(MANAGER, [cut]).result(ANSWER_S)
        except ProblemError as error:
            return error.problem
        return outcome.problem if isinstance(outcome, Refused) else outcome

    return tell


def _meeting_inside(patch: pytest.MonkeyPatch) -> None:
    """Let two writers wait for one another between looking at the record and writing to it.

    With the lock only one can be inside, and it goes on alone after a while.
    """
    inside = threading.Barrier(2)
    real = WriteTransaction.load

    def load_and_wait(tx: WriteTransaction, events: Sequence[Event], tolerance: Any) -> Any:
        world = real(tx, events, tolerance)
        try:
            inside.wait(_MEET_S)
        except threading.BrokenBarrierError:
            inside.reset()
        return world

    patch.setattr(WriteTransaction, "load", load_and_wait)


def _without_the_lock(patch: pytest.MonkeyPatch) -> None:
    """Take the head's lock away: a plain BEGIN on SQLite, no FOR UPDATE on PostgreSQL."""
    patch.setattr(SqliteLink, "_begin_write", "BEGIN")
    real = PostgresLink.row

    def unlocked(link: PostgresLink, statement: str, parameters: Sequence[Any] = ()) -> Any:
        return real(link, statement.removesuffix(" FOR UPDATE"), parameters)

    patch.setattr(PostgresLink, "row", unlocked)


@pytest.mark.parametrize("locked", [True, False], ids=["with-the-lock", "without-it"])
def test_it_is_the_lock_that_guards(
    database_url: str, monkeypatch: pytest.MonkeyPatch, *, locked: bool
) -> None:
    """The same race of two writers in one process is right with the head's lock, wrong without.

    Without it both read the same end of the ledger. The ledger's own keys then still keep a wheel
    from being oversold, but transactions fail: losers are not told the grams left.
    """
    dairy = Dairy()
    events, codes = dairy.wheels(5)
    with closing(Store(database_url)) as one, closing(Store(database_url)) as other:
        services = [Service(store, lambda: NOW, ScaleTolerance()) for store in (one, other)]
        for service in services:
            service.start()
        recorded(services[0], [*dairy.declared(), *events])
        race = Race(codes, wheel_g=4_000, piece_g=2_500)

        with monkeypatch.context() as patch:
            _meeting_inside(patch)
            if not locked:
                _without_the_lock(patch)
            race.run(dairy, [_in_process(service) for service in services])
        for service in services:
            service.stop(ANSWER_S)
        trace = services[0].trace(MANAGER, _milk_of(events), "forward", TraceParams()).answer()
        wrongs = race.wrongs(2, trace)
        assert services[0].discrepancies(MANAGER, DiscrepancyParams()).discrepancies == []
        if locked:
            assert wrongs == []
        else:
            assert any("losers were told" in wrong for wrong in wrongs)
            assert not any("came out of" in wrong for wrong in wrongs)
