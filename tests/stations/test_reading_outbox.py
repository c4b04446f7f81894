"""The outbox of a logger from reading to recorded: order, refusals, pauses. Nothing here waits."""

import asyncio
import inspect
import json
import math
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest

from rindline import (
    AsyncClient,
    AsyncReadingOutbox,
    Client,
    InvalidInputError,
    OutboxError,
    ReadingOutbox,
    RetryPolicy,
)
from rindline._wire import Request, Response
from rindline.outbox import Outbox, _reading_drain
from rindline.testing import FakeClock, FakeServer
from rindline_schema.answers import Reading
from rindline_schema.problems import Problem, make_problem
from tests.sdk.samples import AT
from tests.stations.outbox_parts import HOURS_48, HURRIED, Answering
from tests.stations.reading_parts import minutes, reading, reading_outbox, some_readings


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def server(clock: FakeClock) -> Answering:
    return Answering(clock=clock)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "readings.db"


def _answer(problem: Problem) -> Response:
    return Response(problem.status, {}, msgspec.json.encode(problem))


def _holds(request: Request, minute: int) -> bool:
    told = msgspec.to_builtins(reading(minute))["at"]
    return told.encode() in (request.body or b"")


def test_what_is_read_is_on_disk_and_arrives_oldest_first(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """One by one and in heaps; another outbox on the file sends them, then nothing is left."""
    with ReadingOutbox(path, clock=clock) as outbox:
        told = outbox.read("S-1", temperature_c=11.5, humidity_pct=91.0)
        assert told == Reading(sensor="S-1", at=clock.now(), temperature_c=11.5, humidity_pct=91.0)
        outbox.read("S-1", temperature_c=11.0, at=AT + timedelta(minutes=7))
        assert outbox.many(some_readings(3)) == 3
        assert outbox.status().queued == 5
    assert server.readings == []
    with reading_outbox(path, server, clock) as outbox:
        status = outbox.send()
        assert (status.queued, status.set_aside, status.oldest_age_s) == (0, 0, None)
        assert status.last_sent_at is not None
    assert minutes(server)[1:] == [7, 0, 1, 2]
    assert server.readings[0].at == told.at


def test_many_readings_go_in_large_batches(path: Path, server: Answering, clock: FakeClock) -> None:
    """12,000 readings are kept with one sync and go in three requests, those in order."""
    with reading_outbox(path, server, clock) as outbox:
        outbox.many(some_readings(12_000))
        outbox.send()
    assert [len(json.loads(one.body or b"")["readings"]) for one in server.requests] == [
        5_000,
        5_000,
        2_000,
    ]
    assert minutes(server) == list(range(12_000))


def test_refused_readings_are_set_aside_and_the_rest_flow(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """Each with its problem, until a person sends them again or drops them; repeated is done."""
    with Client(transport=server, clock=clock) as client:
        client.tell_readings([reading(1, 20.0), reading(2)])
    with reading_outbox(path, server, clock) as outbox:
        outbox.many(some_readings(4))
        status = outbox.send()
        assert (status.queued, status.set_aside) == (0, 1)
        [aside] = outbox.set_aside()
        assert (aside.reading, aside.problem.code) == (reading(1), "reading_differs")
        assert outbox.resend() == 1
        assert outbox.status().queued == 1
        assert outbox.send().set_aside == 1
        assert outbox.drop() == 1
        assert (outbox.set_aside(), outbox.drop(), outbox.resend()) == ([], 0, 0)
    assert sorted(minutes(server)) == [0, 1, 2, 3]
    assert server.readings[1].temperature_c == 20.0


def test_a_lost_answer_is_made_good_by_sending_again(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """What was recorded without our hearing of it is repeated, and recorded once."""
    server.lose_next_answer(3)
    with reading_outbox(path, server, clock) as outbox:
        outbox.many(some_readings(3))
        status = outbox.send(deadline_s=600)
        assert (status.queued, status.set_aside) == (0, 0)
    assert minutes(server) == [0, 1, 2]
    assert len(server.requests) == 4


@pytest.mark.parametrize(
    "said",
    [
        {},
        {"temperature_c": 85.5},
        {"humidity_pct": 101.0},
        {"temperature_c": math.nan},
        {"temperature_c": 11.0, "humidity_pct": math.inf},
        {"temperature_c": 11.0, "at": datetime(2026, 2, 3, tzinfo=UTC).replace(tzinfo=None)},
        {"sensor": "sensor one", "temperature_c": 11.0},
    ],
)
def test_what_no_sensor_shows_is_refused_at_once(
    path: Path, clock: FakeClock, said: dict[str, Any]
) -> None:
    """A broken probe, a time without offset: an error where it is read, and for its heap."""
    given = {"sensor": "S-1", **said}
    with ReadingOutbox(path, clock=clock) as outbox:
        with pytest.raises(InvalidInputError):
            outbox.read(**given)
        with pytest.raises(InvalidInputError):
            outbox.many([reading(1), Reading(**{"at": AT, **given})])
        assert outbox.status().queued == 0


def test_a_reading_the_server_cannot_read_never_blocks_the_rest(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """A body refused as a whole is halved down to the one reading that is to blame."""
    problem = make_problem("malformed", "what is that")

    def instead(request: Request) -> Response | None:
        return _answer(problem) if _holds(request, 5) else None

    server.instead = instead
    with reading_outbox(path, server, clock) as outbox:
        outbox.many(some_readings(9))
        status = outbox.send(deadline_s=600)
        assert (status.queued, status.set_aside) == (0, 1)
        assert [one.reading for one in outbox.set_aside()] == [reading(5)]
    assert minutes(server) == [0, 1, 2, 3, 4, 6, 7, 8]


def test_a_reading_the_server_stumbles_over_never_blocks_the_rest(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """HTTP 500 over one reading: it is set aside, but only once the server has taken another."""
    problem = make_problem("internal", "an error of ours")

    def instead(request: Request) -> Response | None:
        return _answer(problem) if _holds(request, 1) else None

    server.instead = instead
    with reading_outbox(path, server, clock) as outbox:
        outbox.many(some_readings(2))
        status = outbox.send(deadline_s=6_000)
        assert (status.queued, status.set_aside) == (1, 0)
        outbox.many([reading(3)])
        status = outbox.send(deadline_s=6_000)
        assert (status.queued, status.set_aside) == (0, 1)
    assert minutes(server) == [0, 3]


def test_a_key_that_is_not_taken_pauses_and_says_so(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """Nothing is set aside or lost; when the key is right again everything flows."""
    server.instead = lambda _request: _answer(make_problem("unauthorized", "the key is revoked"))
    with reading_outbox(path, server, clock) as outbox:
        outbox.many(some_readings(2))
        status = outbox.send(deadline_s=600)
        assert (status.queued, status.set_aside) == (2, 0)
        assert "the key is revoked" in (status.paused or "")
        server.instead = lambda _request: None
        status = outbox.send()
        assert (status.queued, status.paused, status.last_error) == (0, None, None)


def test_answers_of_something_in_between_settle_nothing(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """A portal's page, another batch's answer, refusals of readings that were not sent."""
    problem = msgspec.to_builtins(make_problem("reading_differs", "x"))
    strange = [
        Response(200, {}, b"<html>Sign in</html>"),
        Response(403, {}, b"no"),
        Response(200, {}, b'{"recorded":3,"repeated":0}'),
        Response(200, {}, b'{"recorded":0,"repeated":0}'),
        _said({"recorded": 1, "repeated": 0, "refused": [{"index": 2, "problem": problem}]}),
        _said({"recorded": 0, "repeated": 0, "refused": [{"index": 0, "problem": problem}] * 2}),
    ]
    count = len(strange)
    server.instead = lambda _request: strange.pop(0) if strange else None
    with reading_outbox(path, server, clock) as outbox:
        outbox.many(some_readings(2))
        status = outbox.send(deadline_s=6_000)
        assert (status.queued, status.set_aside) == (0, 0)
    assert len(clock.slept) == count
    assert minutes(server) == [0, 1]


def _said(answer: dict[str, Any]) -> Response:
    return Response(200, {}, msgspec.json.encode(answer))


def test_a_refusal_that_may_pass_leaves_its_reading_queued(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """The others are done with; it is sent again after a pause."""
    busy = msgspec.to_builtins(make_problem("busy", "x"))
    answers = [_said({"recorded": 1, "repeated": 0, "refused": [{"index": 0, "problem": busy}]})]
    server.instead = lambda _request: answers.pop() if answers else None
    with reading_outbox(path, server, clock) as outbox:
        outbox.many(some_readings(2))
        assert outbox.send(deadline_s=600).queued == 0
    assert minutes(server) == [0]
    assert len(clock.slept) == 1


def test_depth_and_age_are_visible(path: Path, server: Answering, clock: FakeClock) -> None:
    """The age is that of waiting, whatever becomes of the wall clock meanwhile."""
    with reading_outbox(path, server, clock) as outbox:
        outbox.many(some_readings(2))
        clock.passed_s += 90
        clock._start += HOURS_48
        outbox.many(some_readings(3, first=10))
        status = outbox.status()
        assert (status.queued, status.oldest_age_s, status.draining) == (5, 90.0, False)


def test_it_waits_as_long_as_it_is_asked_to(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """Jitter from a growing span, never less than ``Retry-After``; as the outbox of events."""
    server.refuse_next(make_problem("busy", "too much"), retry_after_s=40)
    server.lose_next_request(3)
    policy = RetryPolicy(base_s=1.0, cap_s=3.0)
    with reading_outbox(path, server, clock, policy=policy) as outbox:
        outbox.many(some_readings(1))
        assert outbox.send(deadline_s=600).queued == 0
    # FakeClock's chance is a half: of 1, 2, 3 (not 4) and 3 seconds.
    assert clock.slept == [40.5, 1.0, 1.5, 1.5]


def test_less_is_sent_at_once_while_the_network_is_bad(
    path: Path, server: Answering, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A body that does not get through is halved, so that a slow line is enough."""
    monkeypatch.setattr(_reading_drain, "_MOST_READINGS", 64)
    server.instead = lambda request: (
        Response(502, {}, b"") if len(request.body or b"") > 1_000 else None
    )
    with reading_outbox(path, server, clock) as outbox:
        outbox.many(some_readings(64))
        assert outbox.send(deadline_s=6_000).queued == 0
    assert minutes(server) == list(range(64))


def test_one_process_sends_at_a_time(path: Path, server: Answering, clock: FakeClock) -> None:
    """A second outbox on the file leaves the sending alone until the first is done with it."""
    with (
        reading_outbox(path, server, clock) as first,
        reading_outbox(path, server, clock) as second,
    ):
        first.many(some_readings(1))
        assert first._core.lock.acquire()
        status = second.send()
        assert (status.queued, status.draining) == (1, True)
        first._core.lock.release()
        assert second.send().queued == 0


def test_many_threads_may_read(path: Path) -> None:
    """Telling from many threads at once loses nothing."""
    with ReadingOutbox(path) as outbox:

        def log(name: int) -> None:
            for turn in range(20):
                outbox.read(f"S-{name}", temperature_c=11.0, at=AT + timedelta(minutes=turn))

        threads = [threading.Thread(target=log, args=(name,)) for name in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert outbox.status().queued == 160


def test_the_thread_sends_by_itself_and_close_waits_for_it(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """A script of three lines that ends at once has told its readings, network allowing."""
    client = Client(transport=server, clock=clock)
    with ReadingOutbox(path, client, policy=HURRIED, clock=clock) as outbox:
        outbox.many(some_readings(3))
    assert minutes(server) == [0, 1, 2]


def test_closing_does_not_wait_for_a_network_that_is_gone(path: Path, clock: FakeClock) -> None:
    """With nothing getting through, close gives up at the first failure: all is on disk."""
    server = FakeServer(clock=clock)
    server.lose_next_request(10_000)
    outbox = ReadingOutbox(path, Client(transport=server, clock=clock), policy=HURRIED)
    outbox.many(some_readings(3))
    outbox.close(wait_s=3600)
    with ReadingOutbox(path) as again:
        assert again.status().queued == 3


def _called(kind: type) -> dict[str, list[tuple[str, Any, Any]]]:
    return {
        name: [
            (one.name, one.kind, one.default)
            for one in inspect.signature(method).parameters.values()
        ]
        for name, method in inspect.getmembers(kind, inspect.isfunction)
        if not name.startswith("_") or name == "__init__"
    }


def test_the_outbox_for_asyncio_is_called_alike() -> None:
    """Names, parameters, kinds and defaults are the same; what differs is the awaiting."""
    assert _called(ReadingOutbox) == _called(AsyncReadingOutbox)
    assert len(_called(ReadingOutbox)) == 9


def test_the_outbox_for_asyncio_does_the_same(
    path: Path, server: Answering, clock: FakeClock
) -> None:
    """Kept, sent by its task and by hand, set aside, sent again, dropped."""

    async def log() -> None:
        client = AsyncClient(transport=server, clock=clock)
        async with AsyncReadingOutbox(path, drains=False, clock=clock) as outbox:
            await outbox.read("S-1", temperature_c=11.0, at=AT)
            assert (await outbox.status()).queued == 1
            with pytest.raises(InvalidInputError, match="no client"):
                await outbox.send()
        async with AsyncReadingOutbox(path, client, policy=HURRIED, clock=clock) as outbox:
            await outbox.many([reading(0, 12.0), reading(1)])
        async with AsyncReadingOutbox(path, client, drains=False, clock=clock) as outbox:
            [aside] = await outbox.set_aside()
            assert aside.problem.code == "reading_differs"
            assert await outbox.resend() == 1
            assert (await outbox.send()).set_aside == 1
            assert await outbox.drop() == 1
            assert (await outbox.status()).set_aside == 0

    asyncio.run(log())
    assert minutes(server) == [0, 1]


def test_without_a_client_nothing_can_be_sent(path: Path) -> None:
    """It is said, and what was read stays."""
    with ReadingOutbox(path) as outbox:
        outbox.many(some_readings(1))
        with pytest.raises(InvalidInputError, match="no client"):
            outbox.send()
        assert outbox.status().queued == 1


def test_the_two_sorts_of_outbox_do_not_take_one_another_s_files(tmp_path: Path) -> None:
    """A logger's file is none of events, nor the other way round; memory is no file."""
    Outbox(tmp_path / "events.db").close()
    ReadingOutbox(tmp_path / "readings.db").close()
    with pytest.raises(OutboxError, match="is not an outbox of readings"):
        ReadingOutbox(tmp_path / "events.db")
    with pytest.raises(OutboxError, match="is not an outbox of events"):
        Outbox(tmp_path / "readings.db")
    with pytest.raises(InvalidInputError, match="is a file"):
        ReadingOutbox(":memory:")
