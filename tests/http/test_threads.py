"""Only so much waits for a thread; the rest is told to come back."""

import asyncio
import threading
from typing import Any

import pytest

from rindline_server.http.threads import Threads
from rindline_server.service import ProblemError


def test_when_too_much_waits_the_next_is_turned_away() -> None:
    """One works, one waits, the third gets `busy`; a stream already begun goes on all the same."""
    gate = threading.Event()

    async def scenario() -> list[Any]:
        threads = Threads(1, 1)
        working = [asyncio.create_task(threads.run(gate.wait, 30)) for _ in range(2)]
        await asyncio.sleep(0)
        with pytest.raises(ProblemError) as caught:
            await threads.run(gate.wait, 30)
        assert caught.value.problem.code == "busy"
        going_on = asyncio.create_task(threads.go_on(lambda: "next piece"))
        await asyncio.sleep(0)
        gate.set()
        done = await asyncio.gather(*working, going_on)
        assert await threads.run(lambda: "room again") == "room again"
        threads.close()
        return done

    assert asyncio.run(scenario()) == [True, True, "next piece"]


def test_what_fails_in_a_thread_fails_for_its_caller_alone() -> None:
    """Of many pieces of work each caller gets its own result or its own error."""

    def halved(number: int) -> int:
        if number % 2:
            raise ValueError(number)
        return number // 2

    async def scenario() -> list[Any]:
        threads = Threads(4, 100)
        work = (threads.run(halved, number) for number in range(100))
        done = await asyncio.gather(*work, return_exceptions=True)
        threads.close()
        return done

    for number, result in enumerate(asyncio.run(scenario())):
        if number % 2:
            assert isinstance(result, ValueError)
            assert result.args == (number,)
        else:
            assert result == number // 2


def test_work_nobody_waits_for_any_more_is_left_undone() -> None:
    """A caller who went away while its work waited for a thread costs no thread, and no place."""
    gate, done = threading.Event(), list[str]()

    async def scenario() -> None:
        threads = Threads(1, 1)
        working = asyncio.create_task(threads.run(gate.wait, 30))
        gone = asyncio.create_task(threads.run(done.append, "gone"))
        await asyncio.sleep(0)
        gone.cancel()
        await asyncio.sleep(0)
        stays = asyncio.create_task(threads.run(done.append, "stays"))
        await asyncio.sleep(0)
        gate.set()
        await asyncio.gather(working, stays)
        threads.close()

    asyncio.run(scenario())
    assert done == ["stays"]


def test_one_pool_serves_one_loop_after_another() -> None:
    """A loop that ended with work under way leaves nothing behind that the next would wait for."""
    threads, gate = Threads(2, 2), threading.Event()

    async def leaves() -> None:
        left = asyncio.create_task(threads.run(gate.wait, 30))
        await asyncio.sleep(0)
        assert not left.done()

    async def comes() -> str:
        gate.set()
        return await asyncio.wait_for(threads.run(lambda: "answered"), 30)

    asyncio.run(leaves())
    assert asyncio.run(comes()) == "answered"
    threads.close()


def test_no_more_threads_than_are_needed_at_once() -> None:
    """One question after another takes one thread; two at a time take a second."""
    threads = Threads(8, 8)

    async def scenario() -> list[int]:
        seen = []
        for at_once in (1, 1, 1, 2, 2, 3):
            here = threading.Barrier(at_once)
            await asyncio.gather(*(threads.run(here.wait, 30) for _ in range(at_once)))
            seen.append(len(threads._threads))
        threads.close()
        return seen

    assert asyncio.run(scenario()) == [1, 1, 1, 2, 2, 3]
