"""The outbox for asyncio: the same, awaited."""

import asyncio
import inspect
from collections.abc import Coroutine
from pathlib import Path
from typing import Any

import msgspec
import pytest

from rindline import AsyncClient, Client
from rindline.outbox import AsyncCodes, AsyncOutbox, Codes, Outbox
from rindline.testing import FakeClock, FakeServer
from rindline_schema.problems import make_problem
from tests.sdk.samples import WHEEL
from tests.stations.outbox_parts import HURRIED, weighing, weighings


def _methods(kind: type) -> dict[str, Any]:
    return {
        name: method
        for name, method in inspect.getmembers(kind, inspect.isfunction)
        if not name.startswith("_")
    }


def _parameters(method: Any) -> list[tuple[str, Any, Any]]:
    parameters = inspect.signature(method).parameters.values()
    return [(one.name, one.kind, one.default) for one in parameters]


@pytest.mark.parametrize(("here", "there"), [(Outbox, AsyncOutbox), (Codes, AsyncCodes)])
def test_both_outboxes_have_the_same_methods(here: type, there: type) -> None:
    """Names, parameters, kinds and defaults are the same; what differs is the awaiting."""
    ours, theirs = _methods(here), _methods(there)
    assert set(ours) == set(theirs)
    assert "stamp" in ours or len(ours) > 25
    for name, method in ours.items():
        rows = [
            [
                (one.name, one.kind, one.default)
                for one in inspect.signature(either).parameters.values()
            ]
            for either in (method, theirs[name])
        ]
        assert rows[0] == rows[1], name


def test_a_task_sends_what_is_told(tmp_path: Path) -> None:
    """Typed methods give coroutines; many at once keep their own numbers; all arrive in order."""
    server = FakeServer()

    async def work() -> list[int]:
        client = AsyncClient(transport=server)
        async with AsyncOutbox(tmp_path / "outbox.db", client, policy=HURRIED) as outbox:
            telling = outbox.weigh(lot=WHEEL, mass_g=4_000, note="0")
            assert isinstance(telling, Coroutine)
            queued = [await telling, *await outbox.tell_many(weighings(3))]
            more = await asyncio.gather(*(outbox.tell(one) for one in weighings(20)))
            return [one.number for one in [*queued, *more]]

    numbers = asyncio.run(work())
    assert numbers[:4] == [1, 2, 3, 4]
    assert sorted(numbers) == list(range(1, 25))
    assert [told.event.note for told in server.told][:4] == ["0", "1", "2", "3"]
    assert len(server.told) == 24


def test_refusals_codes_and_draining_are_as_in_the_other(tmp_path: Path) -> None:
    """Set aside, mended, sent again; codes reserved, stamped, spoiled; without any task."""
    clock = FakeClock()
    server = FakeServer(clock=clock)
    refused = make_problem("not_enough", "as the test says")
    server.refuse_when(lambda event: refused if event.note == "wrong" else None)

    async def work() -> None:
        client = AsyncClient(transport=server, clock=clock)
        path = tmp_path / "outbox.db"
        async with AsyncOutbox(path, client, drains=False, clock=clock) as outbox:
            codes = await outbox.codes("wheel", reserve=5, days=1)
            event = weighing("wrong", clock)
            await outbox.tell(event)
            server.lose_next_answer(2)
            status = await outbox.drain()
            assert (status.queued, status.set_aside) == (0, 1)
            code = await codes.stamp()
            await codes.spoil(code)
            assert await codes.left() == 4
            [entry] = await outbox.entries()
            assert await outbox.resend() == 1
            assert (await outbox.drain()).set_aside == 1
            queued = await outbox.mend(entry.id, msgspec.structs.replace(entry.event, note="right"))
            assert (await outbox.drain()).set_aside == 0
            assert (await outbox.entry(queued.id)).state == "recorded"

    asyncio.run(work())
    assert [told.event.note for told in server.told] == ["right"]
    [block] = Client(transport=server).code_blocks()
    assert (block.stamped, block.spoiled) == (1, 1)


def test_closing_does_not_wait_for_a_network_that_is_gone(tmp_path: Path) -> None:
    """With nothing getting through, close gives up at the first failure: the event is on disk."""
    server = FakeServer()
    server.lose_next_request(10_000)

    async def work() -> None:
        client = AsyncClient(transport=server)
        outbox = AsyncOutbox(tmp_path / "outbox.db", client, policy=HURRIED)
        await outbox.__aenter__()
        await outbox.tell(weighing("1"))
        await outbox.close(wait_s=3600)

    asyncio.run(work())
    with Outbox(tmp_path / "outbox.db") as outbox:
        assert outbox.status().queued == 1


@pytest.mark.parametrize("turns", range(5))
def test_it_stops_also_when_something_is_told_at_that_moment(tmp_path: Path, turns: int) -> None:
    """The task ends when it is cancelled at the very turn of the loop at which it is woken."""

    async def work() -> bool:
        client = AsyncClient(transport=FakeServer())
        outbox = AsyncOutbox(tmp_path / "outbox.db", client, policy=HURRIED)
        await outbox.__aenter__()
        task = outbox._sending._task
        assert task is not None
        # Long enough for the task to be idle, which it is for a second at a time.
        await asyncio.sleep(0.3)
        outbox._sending.wake.set()
        for _ in range(turns):
            await asyncio.sleep(0)
        task.cancel()
        await asyncio.wait([task], timeout=10)
        ended = task.cancelled()
        task.cancel()
        await outbox.close(wait_s=0)
        return ended

    assert asyncio.run(work())
