"""The application in this process, without a socket: quick, and every reply checked."""

import asyncio
import threading
from typing import Any, Self, cast

import httpx
from litestar.types import ASGIApp

from tests.contract.transports import Checked, Whole

__all__ = ["InProcess"]

_WAIT_S = 60.0


class InProcess(httpx.BaseTransport):
    """Runs an ASGI application in a thread with a loop of its own; a transport to it.

    Its lifespan begins with ``with`` and ends with it. What the application raises after all its
    layers is raised to the caller.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app: Any = app
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="application")
        self._transport = httpx.ASGITransport(app=cast("Any", app))

    def __enter__(self) -> Self:
        """Start the application."""
        self._thread.start()
        self._lifespan = self._wait(self._begin())
        return self

    def __exit__(self, *_error: object) -> None:
        """Stop the application."""
        self._wait(self._end())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(_WAIT_S)
        self._loop.close()

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        """Pass a request to the application and wait for the whole reply."""
        response: httpx.Response = self._wait(self._handle(request))
        return response

    def client(self, key: str | None = None) -> httpx.Client:
        """Give a client that checks every reply, with a key if one is given."""
        headers = {"authorization": f"Bearer {key}"} if key else {}
        return httpx.Client(
            transport=Checked(self), base_url="http://rindline.test", headers=headers
        )

    def call(self, scope: dict[str, Any], receive: Any, send: Any) -> None:
        """Call the application itself, for what no HTTP client would send."""
        self._wait(self._app(scope, receive, send))

    def _wait(self, work: Any) -> Any:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(_WAIT_S)

    async def _handle(self, request: httpx.Request) -> httpx.Response:
        sent = httpx.Request(
            request.method,
            request.url,
            headers=request.headers,
            stream=Whole(request.read()),
            extensions=request.extensions,
        )
        response = await self._transport.handle_async_request(sent)
        assert isinstance(response.stream, httpx.AsyncByteStream)
        body = b"".join([part async for part in response.stream])
        return httpx.Response(response.status_code, headers=response.headers, stream=Whole(body))

    async def _begin(self) -> "asyncio.Task[None]":
        self._to_app: asyncio.Queue[dict[str, str]] = asyncio.Queue()
        self._from_app: asyncio.Queue[dict[str, str]] = asyncio.Queue()
        scope = {"type": "lifespan", "asgi": {"version": "3.0"}, "state": {}}
        task = asyncio.create_task(self._app(scope, self._to_app.get, self._from_app.put))
        await self._step(task, "startup")
        return task

    async def _end(self) -> None:
        await self._step(self._lifespan, "shutdown")
        await self._lifespan

    async def _step(self, task: "asyncio.Task[None]", step: str) -> None:
        await self._to_app.put({"type": f"lifespan.{step}"})
        answer = asyncio.create_task(self._from_app.get())
        await asyncio.wait({task, answer}, return_when=asyncio.FIRST_COMPLETED)
        if not answer.done():
            answer.cancel()
            await task
        assert (await answer)["type"] == f"lifespan.{step}.complete"
