"""Answers as they go out: whole, streamed, or a problem. Each is a small ASGI application."""

import asyncio
import contextlib
import gzip
import zlib
from collections.abc import Awaitable, Callable, Iterator
from typing import Any

import msgspec

from rindline_schema.problems import Problem
from rindline_server.http.exchange import Exchange, exchange_of
from rindline_server.http.negotiation import entity_tag, matches, takes_gzip
from rindline_server.http.threads import Threads

__all__ = [
    "JSON",
    "PROBLEM_JSON",
    "Reply",
    "StreamedReply",
    "encode",
    "kept_reply",
    "plain_reply",
    "problem_reply",
    "whole_reply",
]

JSON = "application/json"
PROBLEM_JSON = "application/problem+json"

_SMALLEST_ZIPPED_BYTES = 1400  # a body that fits one packet gains nothing
_QUICK_FROM_BYTES = 64 * 1024  # beyond this, time counts more than the last per cent
_KEPT_BY_CALLER = b"private, no-cache"
_VARIES = b"Authorization, Accept, Accept-Encoding"

_Send = Callable[[Any], Awaitable[None]]
_Receive = Callable[[], Awaitable[Any]]
_Headers = list[tuple[bytes, bytes]]

encode = msgspec.json.Encoder().encode
"""Writes an answer as JSON."""


class Reply:
    """A whole answer: status, headers, body."""

    __slots__ = ("body", "headers", "status")

    def __init__(self, status: int, headers: _Headers, body: bytes) -> None:
        self.status = status
        self.headers = headers
        self.body = body

    async def __call__(self, _scope: Any, _receive: _Receive, send: _Send) -> None:
        """Send it."""
        await send({"type": "http.response.start", "status": self.status, "headers": self.headers})
        await send({"type": "http.response.body", "body": self.body, "more_body": False})


def whole_reply(
    exchange: Exchange,
    body: bytes,
    *,
    media: str = JSON,
    tag: str | None = None,
    cache: bytes = _KEPT_BY_CALLER,
) -> Reply:
    """Make the reply to a question: 304 if the caller has it, else the body, zipped if wanted.

    ``tag`` is the entity tag of the plain body, computed from it if not given.
    """
    tag = tag or entity_tag(body)
    wanted = exchange.headers.get(b"if-none-match")
    zipped = len(body) >= _SMALLEST_ZIPPED_BYTES and takes_gzip(
        exchange.headers.get(b"accept-encoding")
    )
    tag = _zipped_tag(tag) if zipped else tag
    if matches(wanted, tag):
        return _not_modified(tag, cache)
    headers = [
        (b"content-type", media.encode()),
        (b"etag", tag.encode()),
        (b"cache-control", cache),
        (b"vary", _VARIES),
    ]
    if zipped:
        body = gzip.compress(body, 1 if len(body) > _QUICK_FROM_BYTES else 5, mtime=0)
        headers.append((b"content-encoding", b"gzip"))
    headers.append((b"content-length", b"%d" % len(body)))
    return Reply(200, headers, body)


def plain_reply(body: bytes, *, media: str = JSON, status: int = 200) -> Reply:
    """Make the reply to something told or done: not for keeping."""
    headers = [
        (b"content-type", media.encode()),
        (b"cache-control", b"no-store"),
        (b"content-length", b"%d" % len(body)),
    ]
    return Reply(status, headers, body)


def kept_reply(exchange: Exchange, tag: str) -> Reply | None:
    """Make the 304 if the caller holds the answer of this tag, plain or zipped."""
    wanted = exchange.headers.get(b"if-none-match")
    held = next((form for form in (tag, _zipped_tag(tag)) if matches(wanted, form)), None)
    return None if held is None else _not_modified(held)


def _not_modified(tag: str, cache: bytes = _KEPT_BY_CALLER) -> Reply:
    headers = [(b"etag", tag.encode()), (b"cache-control", cache), (b"vary", _VARIES)]
    return Reply(304, headers, b"")


def problem_reply(exchange: Exchange, problem: Problem) -> Reply:
    """Make the reply that tells a problem, with the request's id in it."""
    body = encode(msgspec.structs.replace(problem, request_id=exchange.request_id))
    reply = plain_reply(body, media=PROBLEM_JSON, status=problem.status)
    if problem.status == 401:
        reply.headers.append((b"www-authenticate", b'Bearer realm="rindline"'))
    if problem.status == 503:
        reply.headers.append((b"retry-after", b"1"))
    if problem.status in (408, 413):
        # What is left of the body isn't read, so nothing can follow on this connection.
        reply.headers.append((b"connection", b"close"))
    return reply


class StreamedReply:
    """A long answer in pieces, each made in a thread and sent before the next is made.

    ``pieces`` yields 64 to 256 KiB at a time; ``close`` gives back what it holds, whether or not
    all was sent. A reader who goes away or takes nothing for ``stall_s`` seconds ends it.
    """

    def __init__(
        self,
        pieces: Iterator[bytes],
        close: Callable[[], None],
        threads: Threads,
        *,
        media: str,
        tag: str,
        stall_s: float,
        filename: str,
    ) -> None:
        self._pieces = pieces
        self._close = close
        self._threads = threads
        self._media = media
        self._tag = tag
        self._stall_s = stall_s
        self._filename = filename

    async def __call__(self, scope: Any, receive: _Receive, send: _Send) -> None:
        """Send it, piece by piece."""
        pieces = self._pieces
        headers = [
            (b"content-type", self._media.encode()),
            (b"cache-control", _KEPT_BY_CALLER),
            (b"vary", _VARIES),
            (b"content-disposition", f'inline; filename="{self._filename}"'.encode()),
        ]
        tag = self._tag
        exchange = exchange_of(scope)
        if takes_gzip(exchange.headers.get(b"accept-encoding")):
            headers.append((b"content-encoding", b"gzip"))
            tag = _zipped_tag(tag)
            pieces = _zipped(pieces)
        headers.append((b"etag", tag.encode()))
        gone = asyncio.ensure_future(_wait_until_gone(receive))
        start = {"type": "http.response.start", "status": 200, "headers": headers}
        try:
            await self._pass(send, start, exchange)
            while piece := await self._threads.go_on(next, pieces, b""):
                body = {"type": "http.response.body", "body": piece, "more_body": True}
                await self._pass(send, body, exchange)
                if gone.done():
                    exchange.note = "the reader went away"
                    return
            end = {"type": "http.response.body", "body": b"", "more_body": False}
            await self._pass(send, end, exchange)
        finally:
            gone.cancel()
            await self._threads.go_on(self._close)

    async def _pass(self, send: _Send, message: dict[str, Any], exchange: Exchange) -> None:
        """Send one message, unless the reader takes nothing for too long."""
        try:
            async with asyncio.timeout(self._stall_s):
                await send(message)
        except TimeoutError:
            exchange.note = "the reader took nothing for too long"
            raise


async def _wait_until_gone(receive: _Receive) -> None:
    # However the server words it: once nothing can be received, nobody is there.
    with contextlib.suppress(Exception):
        while (await receive())["type"] != "http.disconnect":
            pass


def _zipped(pieces: Iterator[bytes]) -> Iterator[bytes]:
    squeeze = zlib.compressobj(1, wbits=31)
    for piece in pieces:
        if squeezed := squeeze.compress(piece):
            yield squeezed
    yield squeeze.flush()


def _zipped_tag(tag: str) -> str:
    """Give the tag of the same answer in gzip: other bytes, so another strong tag."""
    return f'{tag[:-1]}-gzip"'
