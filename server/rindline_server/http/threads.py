"""Blocking work off the event loop, and no more of it than there is room for."""

import asyncio
import contextlib
import threading
from collections import deque
from collections.abc import Callable
from queue import SimpleQueue
from typing import Any, ParamSpec, TypeVar

from rindline_schema.problems import make_problem
from rindline_server.service import ProblemError

__all__ = ["Threads"]

_P = ParamSpec("_P")
_T = TypeVar("_T")


class _WayBack:
    """Results on their way to the event loop, which is woken once for all that are ready.

    To wake it takes a system call and a turn of its thread: half the time of a short answer.
    """

    def __init__(self, loop: asyncio.AbstractEventLoop, under_way: int) -> None:
        self.loop = loop
        self.under_way = under_way
        self._ready: deque[tuple[asyncio.Future[Any], Any, BaseException | None]] = deque()
        self._is_woken = False

    def bring(
        self, future: "asyncio.Future[Any]", result: Any, error: BaseException | None
    ) -> None:
        """Hand a result over; called by a thread that works."""
        self._ready.append((future, result, error))
        if not self._is_woken:
            self._is_woken = True
            # A loop that is closed has nobody left who waits.
            with contextlib.suppress(RuntimeError):
                self.loop.call_soon_threadsafe(self._deliver)

    def _deliver(self) -> None:
        # First: what is made ready from here on wakes the loop again.
        self._is_woken = False
        while self._ready:
            future, result, error = self._ready.popleft()
            self.under_way -= 1
            if future.done():
                continue
            if error is None:
                future.set_result(result)
            else:
                future.set_exception(error)


_Work = tuple[Callable[[], Any], "asyncio.Future[Any]", _WayBack]


class Threads:
    """A pool of threads. When too much waits for one, callers are told to come back."""

    def __init__(self, threads: int, waiting: int) -> None:
        self._room = threads + waiting
        self._inside = 0
        self._queue: SimpleQueue[_Work | None] = SimpleQueue()
        self._most = threads
        self._threads: list[threading.Thread] = []
        self._way_back: _WayBack | None = None

    async def run(self, work: Callable[_P, _T], *args: _P.args, **kwargs: _P.kwargs) -> _T:
        """Do one piece of work in a thread; raises the problem ``busy`` if too much waits."""
        if self._inside >= self._room:
            raise ProblemError(make_problem("busy", "Too many questions wait for an answer."))
        return await self.go_on(work, *args, **kwargs)

    async def go_on(self, work: Callable[_P, _T], *args: _P.args, **kwargs: _P.kwargs) -> _T:
        """Do the next piece of work of an answer already begun: it is never turned away."""
        loop = asyncio.get_running_loop()
        way_back = self._way_back
        if way_back is None or way_back.loop is not loop:
            # What another loop left behind may still occupy every thread there is.
            way_back = self._way_back = _WayBack(loop, len(self._threads))
        future: asyncio.Future[_T] = loop.create_future()
        way_back.under_way += 1
        self._queue.put((lambda: work(*args, **kwargs), future, way_back))
        if way_back.under_way > len(self._threads) < self._most:
            self._one_more()
        self._inside += 1
        try:
            return await future
        finally:
            self._inside -= 1

    def _one_more(self) -> None:
        """Start a thread; no more than are needed at once, since each keeps memory of its own."""
        name = f"question-{len(self._threads)}"
        thread = threading.Thread(target=self._work, name=name, daemon=True)
        self._threads.append(thread)
        thread.start()

    def _work(self) -> None:
        while (taken := self._queue.get()) is not None:
            work, future, way_back = taken
            try:
                # Nobody waits any more for what was cancelled.
                result, error = None if future.cancelled() else work(), None
            except BaseException as raised:  # noqa: BLE001 - whatever it is, the caller gets it
                result, error = None, raised
            way_back.bring(future, result, error)
            # Hold on to nothing while waiting for the next.
            del taken, work, future, way_back, result, error

    def close(self) -> None:
        """Let the threads finish what they do and end."""
        for _ in self._threads:
            self._queue.put(None)
        for thread in self._threads:
            thread.join()
