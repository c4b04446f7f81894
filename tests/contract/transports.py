"""Transports that check every reply against the OpenAPI document before handing it on.

    client = httpx.Client(transport=Checked(httpx.HTTPTransport()), base_url=...)

A streamed reply is read whole first: these are for tests of what is said, not of how it flows.
"""

from collections.abc import Mapping

import httpx

from tests.contract.document import check_reply

__all__ = ["Checked", "CheckedAsync"]


class Checked(httpx.BaseTransport):
    """Wraps another transport."""

    def __init__(self, inner: httpx.BaseTransport) -> None:
        self._inner = inner

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        """Send the request and check the reply."""
        response = self._inner.handle_request(request)
        response.request = request
        response.read()
        _check(request, response)
        return response

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
        response.request = request
        await response.aread()
        _check(request, response)
        return response

    async def aclose(self) -> None:
        """Close the transport inside."""
        await self._inner.aclose()


def _check(request: httpx.Request, response: httpx.Response) -> None:
    headers: Mapping[str, str] = response.headers
    check_reply(request.method, request.url.path, response.status_code, headers, response.content)
