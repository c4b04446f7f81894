"""Transports that check every reply against the OpenAPI document before handing it on.

    client = httpx.Client(transport=Checked(httpx.HTTPTransport()), base_url=...)

A streamed reply is read whole first: these are for tests of what is said, not of how it flows.
"""

from collections.abc import AsyncIterator, Iterator

import httpx

from tests.contract.document import check_reply

__all__ = ["Checked", "CheckedAsync", "Whole"]


class Whole(httpx.SyncByteStream, httpx.AsyncByteStream):
    """A body that is here already."""

    def __init__(self, body: bytes) -> None:
        self._body = body

    def __iter__(self) -> Iterator[bytes]:
        yield self._body

    async def __aiter__(self) -> AsyncIterator[bytes]:
        yield self._body


class Checked(httpx.BaseTransport):
    """Wraps another transport."""

    def __init__(self, inner: httpx.BaseTransport) -> None:
        self._inner = inner

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        """Send the request and check the reply."""
        response = self._inner.handle_request(request)
        assert isinstance(response.stream, httpx.SyncByteStream)
        try:
            body = b"".join(response.stream)
        finally:
            response.stream.close()
        return _checked(request, response, body)

    def close(self) -> None:
        """Close the transport inside."""
        self._inner.close()


class CheckedAsync(httpx.AsyncBaseTransport):
    """The same for asynchronous clients."""

    def __init__(self, inner: httpx.AsyncBaseTransport) -> None:
        self._inner = inner

    async def handle_async_request(self, request: httpx.Request) -> httpx.Response:
        """Send the request and check the reply."""
        response = await self._inner.handle_async_request(request)
        assert isinstance(response.stream, httpx.AsyncByteStream)
        try:
            body = b"".join([part async for part in response.stream])
        finally:
            await response.stream.aclose()
        return _checked(request, response, body)

    async def aclose(self) -> None:
        """Close the transport inside."""
        await self._inner.aclose()


def _checked(request: httpx.Request, response: httpx.Response, body: bytes) -> httpx.Response:
    status, headers = response.status_code, response.headers
    # `content` is the body unpacked, if it came zipped.
    plain = httpx.Response(status, headers=headers, content=body).content
    check_reply(request.method, request.url.path, status, headers, plain)
    return httpx.Response(
        status, headers=headers, stream=Whole(body), extensions=response.extensions
    )
