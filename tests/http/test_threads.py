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
