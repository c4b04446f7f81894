"""How the HTTP tests answer and ask: prepared answers, streams in parts, both clients."""

import asyncio
from collections.abc import AsyncIterator, Callable, Iterator

import httpx
import msgspec
import pytest

from rindline import (
    AsyncClient,
    Client,
    RetryPolicy,
)
from rindline.testing import FakeClock
from rindline_schema.answers import (
    EdgeLine,
    EndLine,
    HeadLine,
    LotLine,
    OriginAnswer,
    TraceLine,
)
from rindline_schema.problems import make_problem
from tests.sdk.samples import MAKE, MILK, PORTION, TRACE

__all__ = [
    "KEY",
    "LINES",
    "ORIGIN_URL",
    "SERVER",
    "TRACE_URL",
    "Stream",
    "answered",
    "ask_origin",
    "both",
    "read_trace",
    "refused",
]

SERVER = "http://dairy.invalid:8040"
KEY = "rl_an-invented-key"
ORIGIN_URL = f"{SERVER}/v1/lots/{PORTION}/origin"
TRACE_URL = f"{SERVER}/v1/lots/{MILK}/trace/forward"
LINES = b"".join(
    msgspec.json.encode(line) + b"\n"
    for line in (
        HeadLine(lot=MILK, direction="forward", as_of=41),
        LotLine(**msgspec.structs.asdict(TRACE.lots[0])),
        LotLine(**msgspec.structs.asdict(TRACE.lots[1])),
        EdgeLine(parent=MILK, child=MAKE, mass_g=412_000),
        EndLine(lots=2, edges=1, counts=TRACE.counts),
    )
)


def answered(answer: msgspec.Struct, status: int = 200, **headers: str) -> httpx.Response:
    return httpx.Response(status, headers=headers, content=msgspec.json.encode(answer))


def refused(code: str, **headers: str) -> httpx.Response:
    problem = make_problem(code, "as the test says", request_id="req-7")
    return answered(problem, problem.status, **headers)


class Stream(httpx.SyncByteStream, httpx.AsyncByteStream):
    """A body in parts; an exception among them is raised."""

    def __init__(
        self, *parts: bytes | Exception, between: Callable[[], None] | None = None
    ) -> None:
        self._parts = parts
        self._between = between
        self.closed = False

    def __iter__(self) -> Iterator[bytes]:
        for part in self._parts:
            if isinstance(part, Exception):
                raise part
            if self._between is not None:
                self._between()
            yield part

    async def __aiter__(self) -> AsyncIterator[bytes]:
        for part in self:
            yield part

    def close(self) -> None:
        self.closed = True

    async def aclose(self) -> None:
        self.closed = True


def ask_origin(sort: str, clock: FakeClock, retries: RetryPolicy | None = None) -> OriginAnswer:
    if sort == "sync":
        with Client(SERVER, KEY, clock=clock, retries=retries) as client:
            return client.origin(PORTION)

    async def ask() -> OriginAnswer:
        async with AsyncClient(SERVER, KEY, clock=clock, retries=retries) as client:
            return await client.origin(PORTION)

    return asyncio.run(ask())


def read_trace(sort: str) -> list[TraceLine]:
    if sort == "sync":
        with Client(SERVER, KEY, clock=FakeClock()) as client:
            return list(client.trace_lines(MILK, "forward"))

    async def read() -> list[TraceLine]:
        async with AsyncClient(SERVER, KEY, clock=FakeClock()) as client:
            return [line async for line in client.trace_lines(MILK, "forward")]

    return asyncio.run(read())


both = pytest.mark.parametrize("sort", ["sync", "async"])
