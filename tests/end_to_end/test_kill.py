"""`kill -9` amid telling: what was acknowledged is kept, what is sent again is there once."""

import itertools
import time
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path
from random import Random

import pytest

from rindline_schema.answers import RecordedEvent
from rindline_schema.events import Receive
from rindline_schema.params import FeedParams
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.clock import now
from rindline_server.service import Service
from rindline_server.store import Store
from tests.end_to_end.killing import WAIT_S, MortalServer, Teller
from tests.http.serving import add_key
from tests.service.callers import MANAGER, recorded
from tests.service.dairy import Dairy

_KILLS = 30
_BATCHES = (1, 1, 1, 8, 25)
_MORE_ROUNDS = 10


def _deliveries(teller: int) -> Iterator[Receive]:
    """Milk without end; the server gives the lots their codes."""
    dairy = Dairy(1 + teller)
    for mass_g in itertools.count(1):
        yield dairy.event(
            Receive, product="MILK", supplier="HERD-A", mass_g=mass_g, at=dairy.time.replace(hour=6)
        )


def _wait_for(tellers: Sequence[Teller], acknowledged: int) -> None:
    """Wait until so many more events are acknowledged than there are now."""
    deadline = time.monotonic() + WAIT_S
    begun = _acknowledged(tellers)
    while _acknowledged(tellers) < begun + acknowledged:
        assert time.monotonic() < deadline, "nothing is acknowledged any more"
        assert not any(teller.faults for teller in tellers)
        time.sleep(0.003)


def _acknowledged(tellers: Sequence[Teller]) -> int:
    return sum(len(teller.acknowledged) for teller in tellers)


def _kill_often(server: MortalServer, tellers: Sequence[Teller]) -> int:
    """Kill and start again; gives how often. Goes on for a while if no write was in doubt."""
    random = Random(9)
    for killed in range(_KILLS + _MORE_ROUNDS):
        if killed >= _KILLS and any(teller.in_doubt for teller in tellers):
            return killed
        _wait_for(tellers, random.randint(1, 60))
        server.kill()
        server.start()
    return _KILLS + _MORE_ROUNDS


def _ledger(service: Service) -> list[RecordedEvent]:
    events: list[RecordedEvent] = []
    more = True
    while more:
        page = service.feed(MANAGER, FeedParams(after=len(events), limit=1000))
        events += page.events
        more = page.more
    return events


@pytest.mark.slow
@pytest.mark.durable
@pytest.mark.timeout(600)
def test_thirty_kills_lose_and_double_nothing(database_url: str, tmp_path: Path) -> None:
    """Five clients tell, alone and in batches; the server dies thirty times under their hands.

    They send again what was not answered. In the end the ledger holds what was acknowledged, each
    event once under the seq that was answered, its chain is whole and its tables are right. A run
    in which no write was ever in doubt has shown nothing: it fails.
    """
    with closing(Store(database_url)) as store:
        service = Service(store, now, ScaleTolerance())
        service.start()
        declared = recorded(service, Dairy().declared())
        service.stop(WAIT_S)
    key = add_key(database_url, "manager")
    with MortalServer(database_url, tmp_path) as server:
        tellers = [
            Teller(server, key, _deliveries(number), batch) for number, batch in enumerate(_BATCHES)
        ]
        for teller in tellers:
            teller.start()
        try:
            kills = _kill_often(server, tellers)
        finally:
            for teller in tellers:
                teller.enough()
        for teller in tellers:
            teller.join(WAIT_S)
        assert not any(teller.is_alive() or teller.faults for teller in tellers)
    assert kills >= _KILLS
    told = {event_id: t for teller in tellers for event_id, t in teller.acknowledged.items()}
    in_doubt = set[object]().union(*(teller.in_doubt for teller in tellers))
    assert in_doubt, "no write was ever in doubt: the run is void"
    kept = sum(told[event_id].replay for event_id in told if event_id in in_doubt)
    print(f"{kills} kills, {len(told)} events, {len(in_doubt)} in doubt, {kept} of them kept")
    with closing(Store(database_url)) as store:
        service = Service(store, now, ScaleTolerance())
        ledger = _ledger(service)[len(declared) :]
        assert [event.event.id for event in ledger] == sorted(told, key=lambda i: told[i].seq)
        assert [event.seq for event in ledger] == sorted(t.seq for t in told.values())
        codes = [code.lot for t in told.values() for code in t.lots]
        assert len(codes) == len(set(codes)) == len(told)
        assert service.verify(lambda _done, _of: None).fault is None
        assert service.rebuild(lambda _done, _of: None, check=True).differences == []
