"""Blocking work off the event loop, and no more of it than there is room for."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import ParamSpec, TypeVar

from rindline_schema.problems import make_problem
from rindline_server.service import ProblemError

__all__ = ["Threads"]

_P = ParamSpec("_P")
_T = TypeVar("_T")


class Threads:
    """A pool of threads. When too much waits for one, callers are told to come back."""

    def __init__(self, threads: int, waiting: int) -> None:
        self._pool = ThreadPoolExecutor(threads, thread_name_prefix="question")
        self._room = threads + waiting
        self._inside = 0

    async def run(self, work: Callable[_P, _T], *args: _P.args, **kwargs: _P.kwargs) -> _T:
        """Do one piece of work in a thread; raises the problem ``busy`` if too much waits."""
        if self._inside >= self._room:
            raise ProblemError(make_problem("busy", "Too many questions wait for an answer."))
        return await self.go_on(work, *args, **kwargs)

    async def go_on(self, work: Callable[_P, _T], *args: _P.args, **kwargs: _P.kwargs) -> _T:
        """Do the next piece of work of an answer already begun: it is never turned away."""
        self._inside += 1
        try:
            return await asyncio.wrap_future(self._pool.submit(work, *args, **kwargs))
        finally:
            self._inside -= 1

    def close(self) -> None:
        """Let the threads finish what they do and end."""
        self._pool.shutdown(wait=True)
