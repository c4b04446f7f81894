"""The outbox from telling to recorded: order, refusals, pauses, waits. Nothing here waits."""

import sqlite3
import threading
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import msgspec
import pytest

from rindline import Client, InvalidInputError, OutboxError, RetryPolicy
from rindline._wire import Request, Response
from rindline.outbox import Outbox, _ages
from rindline.testing import FakeClock, FakeServer
from rindline_schema.answers import OutboxBatch
from rindline_schema.events import Event, Weigh
from rindline_schema.problems import Problem, make_problem
from tests.sdk.samples import WHEEL
from tests.stations.outbox_parts import HOURS_48, HURRIED, Answering, outbox_of, weighing, weighings


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def server(clock: FakeClock) -> Answering:
    return Answering(clock=clock)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "outbox.db"


def _notes(server: FakeServer) -> list[str | None]:
    return [told.event.note for told in server.told]


def _batches(server: FakeServer) -> list[OutboxBatch]:
    return [
        msgspec.json.decode(request.body or b"", type=OutboxBatch)
        for request in server.requests
        if request.path == "/v1/outbox"
    ]


def _refuse(note: str, code: str = "not_enough") -> "Refusing":
    return Refusing(note, code)


class Refusing:
    """A rule of the fake server: events with this note are refused as long as ``on``."""

    def __init__(self, note: str, code: str) -> None:
        self.on = True
        self._note = note
        self._code = code

    def __call__(self, event: Event) -> Problem | None:
        refused = self.on and event.note == self._note
        return make_problem(self._code, "as the test says") if refused else None


def test_what_is_told_is_on_disk_and_arrives_in_order(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """Typed methods and ready events get numbers from 1; another outbox on the file sends them."""
    with Outbox(path, clock=clock) as outbox:
        queued = outbox.weigh(lot=WHEEL, mass_g=4_100, note="1")
        more = outbox.tell_many([weighing(note, clock) for note in ("2", "3")])
        assert [queued.number, *(one.number for one in more)] == [1, 2, 3]
        assert outbox.status().queued == 3
    assert server.told == []
    with outbox_of(path, server, clock) as outbox:
        status = outbox.drain()
        assert (status.queued, status.next_number, status.waiting) == (0, 4, [])
        assert status.last_sent_at is not None
        assert outbox.entry(queued.id).state == "recorded"
    assert _notes(server) == ["1", "2", "3"]
    assert [item.number for item in _batches(server)[0].items] == [1, 2, 3]


def test_an_id_told_again_keeps_its_number(path: Path, clock: FakeClock) -> None:
    """The same event is kept once; the same id with other content is refused, with its batch."""
    event = weighing("1", clock)
    other = msgspec.structs.replace(event, note="2")
    with Outbox(path, clock=clock) as outbox:
        assert outbox.tell(event) == outbox.tell(event)
        assert outbox.tell_many([event, weighing("3", clock), event])[-1].number == 1
        with pytest.raises(InvalidInputError, match="already told with other content"):
            outbox.tell_many([weighing("4", clock), other])
        assert [entry.event.note for entry in outbox.entries()] == ["1", "3"]


def test_many_threads_share_syncs_and_each_gets_its_own_number(path: Path) -> None:
    """Telling from many threads at once loses nothing, and numbers have no gap."""
    numbers: list[int] = []

    def tell(outbox: Outbox, name: int) -> None:
        notes = [f"{name}-{turn}" for turn in range(20)]
        numbers.extend(outbox.weigh(lot=WHEEL, mass_g=1, note=note).number for note in notes)

    with Outbox(path) as outbox:
        threads = [threading.Thread(target=tell, args=(outbox, name)) for name in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        notes = [entry.event.note for entry in outbox.entries()]
    assert sorted(numbers) == list(range(1, 161))
    assert len(set(notes)) == 160
    for name in range(8):
        own = [note for note in notes if note and note.startswith(f"{name}-")]
        assert own == [f"{name}-{turn}" for turn in range(20)]


def test_a_refused_event_is_set_aside_and_mended_under_a_new_id(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """The rest flow past it; what a person mends is told anew, what is sent again keeps its id."""
    mended_rule, resent_rule = _refuse("2"), _refuse("3", "lot_held")
    server.refuse_when(mended_rule)
    server.refuse_when(resent_rule)
    with outbox_of(path, server, clock) as outbox:
        outbox.tell_many(weighings(4, clock))
        status = outbox.drain()
        assert (status.queued, status.set_aside) == (0, 2)
        assert [(one.first, one.last) for one in status.waiting] == [(2, 3)]
        first, second = outbox.entries("set_aside")
        assert first.problem is not None
        assert (first.problem.code, second.event.note) == ("not_enough", "3")
        queued = outbox.mend(first.id, msgspec.structs.replace(first.event, note="2 mended"))
        assert queued.id != first.id
        assert queued.number == 5
        assert outbox.entry(first.id).mended_by == queued.id
        with pytest.raises(InvalidInputError, match="is mended"):
            outbox.mend(first.id, first.event)
        resent_rule.on = False
        assert outbox.resend() == 1
        assert outbox.drain().set_aside == 0
    assert _notes(server) == ["1", "4", "3", "2 mended"]
    assert {told.event.id for told in server.told} >= {second.id, queued.id}


def test_an_event_the_server_cannot_read_never_blocks_the_rest(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """A body refused as a whole is halved down to the one event that is to blame."""
    problem = make_problem("malformed", "what is that")

    def instead(request: Request) -> Response | None:
        return _answer(problem) if b'"note":"5"' in (request.body or b"") else None

    server.instead = instead
    with outbox_of(path, server, clock) as outbox:
        outbox.tell_many(weighings(9, clock))
        status = outbox.drain(deadline_s=600)
        assert (status.queued, status.set_aside) == (0, 1)
    assert _notes(server) == ["1", "2", "3", "4", "6", "7", "8", "9"]


def test_an_event_the_server_stumbles_over_never_blocks_the_rest(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """HTTP 500 over one event: it is set aside, but only once the server has taken another."""
    problem = make_problem("internal", "an error of ours")

    def instead(request: Request) -> Response | None:
        return _answer(problem) if b'"note":"2"' in (request.body or b"") else None

    server.instead = instead
    with outbox_of(path, server, clock) as outbox:
        outbox.tell_many(weighings(2, clock))
        status = outbox.drain(deadline_s=6_000)
        assert (status.queued, status.set_aside) == (1, 0)
        assert _notes(server) == ["1"]
        outbox.tell(weighing("3", clock))
        status = outbox.drain(deadline_s=6_000)
        assert (status.queued, status.set_aside) == (0, 1)
    assert _notes(server) == ["1", "3"]


def test_a_server_that_stumbles_over_everything_sets_nothing_aside(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """As long as it takes no event at all, no event is to blame."""
    server.instead = lambda _request: _answer(make_problem("internal", "an error of ours"))
    with outbox_of(path, server, clock) as outbox:
        outbox.tell_many(weighings(3, clock))
        status = outbox.drain(deadline_s=6_000)
        assert (status.queued, status.set_aside) == (3, 0)
        server.instead = lambda _request: None
        assert outbox.drain(deadline_s=600).queued == 0
    assert sorted(note or "" for note in _notes(server)) == ["1", "2", "3"]


@pytest.mark.parametrize("code", ["unauthorized", "forbidden"])
def test_a_key_that_is_not_taken_pauses_the_queue_and_says_so(
    path: Path, server: Answering, clock: FakeClock, code: str
) -> None:
    """Nothing is set aside, nothing is lost; when the key is right again everything flows."""
    server.instead = lambda _request: _answer(make_problem(code, "the key is revoked"))
    with outbox_of(path, server, clock) as outbox:
        outbox.tell_many(weighings(2, clock))
        status = outbox.drain(deadline_s=600)
        assert (status.queued, status.set_aside) == (2, 0)
        assert status.paused is not None
        assert "the key is revoked" in status.paused
        server.instead = lambda _request: None
        status = outbox.drain()
        assert (status.queued, status.paused, status.last_error) == (0, None, None)
    assert _notes(server) == ["1", "2"]


def test_it_waits_as_long_as_it_is_asked_to(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """Between attempts lies jitter from a growing span, and never less than ``Retry-After``."""
    server.refuse_next(make_problem("busy", "too much"), retry_after_s=40)
    server.lose_next_request(3)
    policy = RetryPolicy(base_s=1.0, cap_s=3.0)
    with outbox_of(path, server, clock, policy=policy) as outbox:
        outbox.tell(weighing("1", clock))
        assert outbox.drain(deadline_s=600).queued == 0
    # FakeClock's chance is a half: of 1, 2, 3 (not 4) and 3 seconds.
    assert clock.slept == [40.5, 1.0, 1.5, 1.5]


def test_answers_of_something_in_between_settle_nothing(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """A portal's page, a proxy's 403, the answer to another request: the events stay queued."""
    strange = [
        Response(200, {}, b"<html>Sign in</html>"),
        Response(403, {}, b"no"),
        Response(404, {}, b""),
        Response(200, {}, b'{"outcomes":[],"recorded":0,"refused":0,"replayed":0}'),
        Response(
            200,
            {},
            b'{"outcomes":[{"outcome":"recorded","id":"019c0000-0000-7000-8000-000000000001",'
            b'"seq":1,"recorded_at":"2026-01-05T06:00:00Z"}],"recorded":1,"refused":0,"replayed":0}',
        ),
    ]
    count = len(strange)
    server.instead = lambda _request: strange.pop(0) if strange else None
    with outbox_of(path, server, clock) as outbox:
        outbox.tell(weighing("1", clock))
        assert outbox.drain(deadline_s=600).queued == 0
        assert outbox.entries("set_aside") == []
    assert len(clock.slept) == count
    assert _notes(server) == ["1"]


def test_a_lost_answer_is_asked_for_again_with_the_same_id(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """What the server recorded without our hearing of it is a replay, and is recorded once."""
    server.lose_next_answer(3)
    with outbox_of(path, server, clock) as outbox:
        outbox.tell_many(weighings(3, clock))
        assert outbox.drain(deadline_s=600).queued == 0
    assert _notes(server) == ["1", "2", "3"]
    assert len(_batches(server)) == 4


def test_an_age_is_of_the_event_not_of_the_clock(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """A wall clock set by 48 hours meanwhile changes no age; ``at`` in the past adds to it."""
    with outbox_of(path, server, clock) as outbox:
        outbox.tell(weighing("now", clock))
        outbox.tell(weighing("before", clock, at=clock.now() - timedelta(hours=1)))
        clock.passed_s += 90
        clock._start += HOURS_48
        outbox.drain()
    now, before = _batches(server)[0].items
    assert (now.age_ms, before.age_ms) == (90_000, 3_690_000)
    [station] = Client(transport=server, clock=clock).stations()
    assert station.outboxes[0].missing_count == 0


def test_an_age_outlasts_a_new_start_of_the_machine(
    path: Path, server: Answering, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Across starts the wall clock counts, as it was known at last before the machine went off."""
    monkeypatch.setattr(_ages, "boot_name", lambda: "first")
    with outbox_of(path, server, clock) as outbox:
        # The clock is two days behind when this is told, and set right before the machine stops.
        clock._start -= HOURS_48
        outbox.tell(weighing("1", clock))
        clock._start += HOURS_48
        server.lose_next_request()
        outbox.drain(deadline_s=0.1)
    monkeypatch.setattr(_ages, "boot_name", lambda: "second")
    later = FakeClock(clock.now() + timedelta(hours=2))
    with outbox_of(path, server, later) as outbox:
        outbox.drain()
    [batch] = _batches(server)
    assert abs(batch.items[0].age_ms - 2 * 3_600_000) < 1_000


def test_one_process_sends_at_a_time(path: Path, server: Answering, clock: FakeClock) -> None:
    """A second outbox on the file leaves the sending alone until the first is done with it."""
    with outbox_of(path, server, clock) as first, outbox_of(path, server, clock) as second:
        first.tell(weighing("1", clock))
        assert first._core.lock.acquire()
        status = second.drain()
        assert (status.queued, status.draining) == (1, True)
        first._core.lock.release()
        status = second.drain()
        assert (status.queued, status.draining) == (0, False)


def test_a_silent_station_says_that_it_is_alive(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """After five minutes with nothing to tell an empty batch goes out, with depth and clock."""
    with outbox_of(path, server, clock) as outbox:
        steps = outbox._core.steps()
        step = next(steps)
        assert getattr(step, "idle", False)
        clock.passed_s += 301
        request = next(steps).call.request  # type: ignore[union-attr]
    batch = msgspec.json.decode(request.body or b"", type=OutboxBatch)
    assert (batch.items, batch.queued, batch.next_number) == ([], 0, 1)


def test_the_thread_sends_by_itself_and_close_waits_for_it(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """A script of three lines that ends at once has told its event, network allowing."""
    with Outbox(path, Client(transport=server, clock=clock), policy=HURRIED) as outbox:
        outbox.weigh(lot=WHEEL, mass_g=4_000, note="1")
    assert _notes(server) == ["1"]


def test_closing_does_not_wait_for_a_network_that_is_gone(path: Path, clock: FakeClock) -> None:
    """With nothing getting through, close gives up at the first failure: the event is on disk."""
    server = FakeServer(clock=clock)
    server.lose_next_request(10_000)
    outbox = Outbox(path, Client(transport=server, clock=clock), policy=HURRIED)
    outbox.weigh(lot=WHEEL, mass_g=4_000, note="1")
    outbox.close(wait_s=3600)
    with Outbox(path) as outbox:
        assert outbox.status().queued == 1


@pytest.mark.parametrize("what", ["folder", "text", "database"])
def test_a_file_that_is_no_outbox_is_left_alone(tmp_path: Path, what: str) -> None:
    """Another file, or a folder, gives a typed error and is not written to."""
    path = tmp_path / "else"
    if what == "folder":
        path.mkdir()
    elif what == "text":
        path.write_bytes(b"no database at all " * 100)
    else:
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("CREATE TABLE cheese (name TEXT)")
    before = None if what == "folder" else path.read_bytes()
    with pytest.raises(OutboxError, match="else"):
        Outbox(path)
    assert before is None or path.read_bytes() == before


def test_an_event_carries_no_correction_of_its_own_time() -> None:
    """``station_at`` is the server's to set: a told event that has it is refused."""
    event = weighing("1")
    assert isinstance(event, Weigh)
    server = FakeServer()
    [outcome] = Client(transport=server).tell_many(
        [msgspec.structs.replace(event, station_at=event.at)]
    )
    assert msgspec.to_builtins(outcome)["problem"]["faults"][0]["pointer"] == "/station_at"


def _answer(problem: Problem) -> Response:
    return Response(problem.status, {}, msgspec.json.encode(problem))
