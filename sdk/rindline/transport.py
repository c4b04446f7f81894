"""The only module that knows httpx: it carries a request and turns what fails into one error.

The time limit of an attempt bounds each wait (to connect, to write, for more of the answer) and
is looked at again after each part of the answer, so that a server that drips cannot hold a call
for more than about twice the limit. Redirects are not followed: a key goes to no other address.
"""

import ssl
from collections.abc import AsyncIterator, Iterator, Mapping
from contextlib import contextmanager
from typing import TypedDict

import httpx

from rindline._clock import Clock, RealClock
from rindline._wire import AsyncOpened, Opened, Request, Response
from rindline.errors import InvalidInputError, TransportError

__all__ = ["AsyncHttpTransport", "HttpTransport"]


class HttpTransport:
    """Speaks HTTP with ``httpx.Client``; connections are kept and may be used by many threads.

    ``client`` lets you bring your own (proxies, certificates); it is closed with the transport.
    """

    def __init__(
        self, server: str, *, client: httpx.Client | None = None, clock: Clock | None = None
    ) -> None:
        self._server = _checked_server(server)
        self._client = client or httpx.Client()
        self._clock = clock or RealClock()

    def send(self, request: Request, timeout_s: float) -> Response:
        """Send and read the whole answer."""
        ends_at = self._clock.monotonic_s() + timeout_s
        opened = self.open(request, timeout_s)
        try:
            parts = []
            for chunk in opened.chunks():
                parts.append(chunk)
                _refuse_if_late(self._clock, ends_at, timeout_s)
        finally:
            opened.close()
        return Response(opened.status, opened.headers, b"".join(parts))

    def open(self, request: Request, timeout_s: float) -> Opened:
        """Send and read the answer's head."""
        with _faults_of(self._server, timeout_s):
            built = self._client.build_request(**_arguments(self._server, request, timeout_s))
            response = self._client.send(built, stream=True, follow_redirects=False)
        return _Opened(response, self._server, timeout_s)

    def close(self) -> None:
        """Close all connections."""
        self._client.close()


class AsyncHttpTransport:
    """As :class:`HttpTransport`, with ``httpx.AsyncClient``."""

    def __init__(
        self, server: str, *, client: httpx.AsyncClient | None = None, clock: Clock | None = None
    ) -> None:
        self._server = _checked_server(server)
        self._client = client or httpx.AsyncClient()
        self._clock = clock or RealClock()

    async def send_async(self, request: Request, timeout_s: float) -> Response:
        """Send and read the whole answer."""
        ends_at = self._clock.monotonic_s() + timeout_s
        opened = await self.open_async(request, timeout_s)
        try:
            parts = []
            async for chunk in opened.chunks():
                parts.append(chunk)
                _refuse_if_late(self._clock, ends_at, timeout_s)
        finally:
            await opened.close()
        return Response(opened.status, opened.headers, b"".join(parts))

    async def open_async(self, request: Request, timeout_s: float) -> AsyncOpened:
        """Send and read the answer's head."""
        with _faults_of(self._server, timeout_s):
            built = self._client.build_request(**_arguments(self._server, request, timeout_s))
            response = await self._client.send(built, stream=True, follow_redirects=False)
        return _AsyncOpened(response, self._server, timeout_s)

    async def close_async(self) -> None:
        """Close all connections."""
        await self._client.aclose()


class _Opened:
    def __init__(self, response: httpx.Response, server: str, timeout_s: float) -> None:
        self.status = response.status_code
        self.headers: Mapping[str, str] = dict(response.headers)
        self._response = response
        self._server = server
        self._timeout_s = timeout_s

    def chunks(self) -> Iterator[bytes]:
        with _faults_of(self._server, self._timeout_s):
            yield from self._response.iter_bytes()

    def close(self) -> None:
        self._response.close()


class _AsyncOpened:
    def __init__(self, response: httpx.Response, server: str, timeout_s: float) -> None:
        self.status = response.status_code
        self.headers: Mapping[str, str] = dict(response.headers)
        self._response = response
        self._server = server
        self._timeout_s = timeout_s

    async def chunks(self) -> AsyncIterator[bytes]:
        with _faults_of(self._server, self._timeout_s):
            async for chunk in self._response.aiter_bytes():
                yield chunk

    async def close(self) -> None:
        await self._response.aclose()


def _checked_server(server: str) -> str:
    """Give the address without a slash at its end, or say what is wrong with it."""
    try:
        url = httpx.URL(server)
    except httpx.InvalidURL as error:
        raise InvalidInputError(f"{server!r} is not an address: {error}.") from error
    if url.scheme not in ("http", "https") or not url.host or url.query or url.fragment:
        raise InvalidInputError(
            f"{server!r} is not a server's address, such as http://127.0.0.1:8040."
        )
    if url.userinfo:
        raise InvalidInputError("A server's address holds no name or password: pass a key.")
    return server.rstrip("/")


class _Arguments(TypedDict):
    method: str
    url: str
    content: bytes | None
    headers: dict[str, str]
    timeout: float


def _arguments(server: str, request: Request, timeout_s: float) -> _Arguments:
    return {
        "method": request.method,
        "url": server + request.target,
        "content": request.body,
        "headers": dict(request.headers),
        "timeout": timeout_s,
    }


@contextmanager
def _faults_of(server: str, timeout_s: float) -> Iterator[None]:
    """Turn what httpx raises into :class:`TransportError`, with what to do."""
    try:
        yield
    except httpx.ConnectError as error:
        raise _connect_fault(server, error) from error
    except httpx.TimeoutException as error:
        raise TransportError(f"{server} did not answer within {timeout_s:g} s.") from error
    except (httpx.UnsupportedProtocol, httpx.LocalProtocolError, httpx.InvalidURL) as error:
        raise TransportError(
            f"The request to {server} cannot be sent: {error}.", retryable=False
        ) from error
    except (httpx.HTTPError, httpx.StreamError) as error:
        raise TransportError(
            f"The connection to {server} was lost before the answer was whole "
            f"({type(error).__name__}: {error})."
        ) from error


def _connect_fault(server: str, error: httpx.ConnectError) -> TransportError:
    for cause in _causes(error):
        if isinstance(cause, ssl.SSLError):
            return TransportError(
                f"No secure connection to {server}: {cause}. Check its address and certificate.",
                retryable=False,
            )
    return TransportError(f"{server} cannot be reached ({error}). Does the server run there?")


def _causes(error: BaseException) -> list[BaseException]:
    """Give an error and what led to it; such a chain may run in a circle."""
    found: list[BaseException] = []
    cause: BaseException | None = error
    while cause is not None and cause not in found:
        found.append(cause)
        cause = cause.__cause__ or cause.__context__
    return found


def _refuse_if_late(clock: Clock, ends_at: float, timeout_s: float) -> None:
    if clock.monotonic_s() > ends_at:
        raise TransportError(f"The answer was not whole within {timeout_s:g} s.")
