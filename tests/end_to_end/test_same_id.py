"""Told again under its id, an event is recorded once, whoever sends it and how often."""

import threading
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path

import msgspec
import pytest

from rindline import Client, RetryPolicy
from rindline.errors import RefusedError
from rindline_schema.answers import Told
from rindline_schema.events import Receive
from tests.http.serving import add_key, serving
from tests.service.dairy import Dairy

_TELLERS = 16
_ROUNDS = 8
_WAIT_S = 120.0


@pytest.fixture
def clients(database_url: str, tmp_path: Path) -> Iterator[Sequence[Client]]:
    """Sixteen clients, half of them at each of two servers on one database."""
    key = add_key(database_url, "manager")
    with ExitStack() as stack:
        servers = []
        for name in ("first", "second"):
            (tmp_path / name).mkdir()
            servers.append(stack.enter_context(serving(database_url, tmp_path / name)))
        yield [
            stack.enter_context(
                Client(servers[i % 2].url, key, retries=RetryPolicy(max_attempts=1))
            )
            for i in range(_TELLERS)
        ]


def _at_once(clients: Sequence[Client], events: Sequence[Receive]) -> list[Told | RefusedError]:
    """Tell an event each at one moment."""
    together = threading.Barrier(len(clients))
    answers: list[Told | RefusedError] = []

    def tell(client: Client, event: Receive) -> None:
        together.wait(_WAIT_S)
        try:
            answers.append(client.tell(event))
        except RefusedError as error:
            answers.append(error)

    threads = [
        threading.Thread(target=tell, args=pair) for pair in zip(clients, events, strict=True)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(_WAIT_S)
    assert len(answers) == len(clients)
    return answers


@pytest.mark.slow
def test_sixteen_at_once_with_one_id(clients: Sequence[Client]) -> None:
    """One event in the ledger, one first answer, fifteen replays of it, and no lot code lost.

    The event leaves its lot code to the server: all must be given the same one. Then sixteen with
    one id and sixteen contents: one is recorded, and each of the others is refused.
    """
    dairy = Dairy()
    assert all(isinstance(o, Told) for o in clients[0].tell_many(dairy.declared()))
    head = clients[0].feed_page(0, limit=1).as_of
    for number in range(1, _ROUNDS + 1):
        milk = dairy.event(Receive, product="MILK", supplier="HERD-A", mass_g=1_000)
        answers = _at_once(clients, [milk] * _TELLERS)
        told = [answer for answer in answers if isinstance(answer, Told)]
        assert sorted(answer.replay for answer in told) == [False] + [True] * 15
        assert {repr(msgspec.structs.replace(answer, replay=False)) for answer in told} == {
            repr(next(answer for answer in told if not answer.replay))
        }
        assert told[0].seq == head + number
        assert told[0].lots
    first = dairy.event(Receive, product="MILK", supplier="HERD-A", mass_g=1)
    others = [msgspec.structs.replace(first, mass_g=1_000 + i) for i in range(_TELLERS)]
    answers = _at_once(clients, others)
    refusals = [answer for answer in answers if isinstance(answer, RefusedError)]
    assert [answer.code for answer in refusals] == ["id_reused"] * 15
    ids = [event.event.id for event in clients[1].feed(head)]
    assert len(ids) == len(set(ids)) == _ROUNDS + 1
    recorded = clients[1].event(first.id).event
    assert isinstance(recorded, Receive)
    assert msgspec.structs.replace(recorded, lot=None) in others


def test_again_much_later(clients: Sequence[Client]) -> None:
    """After much else, and from the other server, the first answer comes again and marked."""
    dairy = Dairy()
    one, other = clients[:2]
    assert all(isinstance(o, Told) for o in one.tell_many(dairy.declared()))
    milk = dairy.milk(1_000)
    first = one.tell(milk)
    assert all(isinstance(o, Told) for o in other.tell_many([dairy.milk(1) for _ in range(300)]))
    again = other.tell(milk)
    assert (first.replay, again.replay) == (False, True)
    assert msgspec.structs.replace(again, replay=False) == first
    with pytest.raises(RefusedError) as error:
        other.tell(msgspec.structs.replace(milk, note="another word"))
    assert error.value.code == "id_reused"
    assert error.value.status == 409
