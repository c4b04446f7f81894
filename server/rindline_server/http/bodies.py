"""Taking in a body: its kind, its size and how long it may take, before anything is decoded."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

from rindline_schema.operations import MAX_BODY_BYTES
from rindline_schema.problems import make_problem
from rindline_server.http.exchange import Exchange
from rindline_server.service import ProblemError

__all__ = ["ClientGoneError", "read_body"]


class ClientGoneError(Exception):
    """The caller went away before its request had arrived; there is nobody to answer."""


async def read_body(
    exchange: Exchange, receive: Callable[[], Awaitable[Any]], deadline_s: float
) -> bytes:
    """Take in the whole body; reading stops at the size limit or the deadline.

    Raises the problems ``wrong_content_type``, ``too_large`` and ``request_timeout``.
    """
    _check_kind(exchange.headers)
    announced = exchange.headers.get(b"content-length", b"")
    if announced.isdigit() and int(announced) > MAX_BODY_BYTES:
        raise _too_large()
    try:
        async with asyncio.timeout(deadline_s):
            return await _read(receive)
    except TimeoutError:
        detail = f"The body did not arrive within {deadline_s:g} s."
        raise ProblemError(make_problem("request_timeout", detail)) from None


async def _read(receive: Callable[[], Awaitable[Any]]) -> bytes:
    parts: list[bytes] = []
    size = 0
    while True:
        message = await receive()
        if message["type"] != "http.request":
            raise ClientGoneError
        part: bytes = message.get("body", b"")
        size += len(part)
        if size > MAX_BODY_BYTES:
            raise _too_large()
        parts.append(part)
        if not message.get("more_body", False):
            return b"".join(parts)


def _check_kind(headers: dict[bytes, bytes]) -> None:
    kind, _, parameters = headers.get(b"content-type", b"").decode("latin-1").partition(";")
    charset = parameters.strip().lower().removeprefix("charset=").strip('"')
    if kind.strip().lower() != "application/json" or charset not in ("", "utf-8"):
        detail = "The body's content type is not application/json in UTF-8."
        raise ProblemError(make_problem("wrong_content_type", detail))
    if headers.get(b"content-encoding", b"identity").lower() != b"identity":
        detail = "The body is encoded; send it as it is."
        raise ProblemError(make_problem("wrong_content_type", detail))


def _too_large() -> ProblemError:
    detail = f"A body may have at most {MAX_BODY_BYTES} bytes."
    return ProblemError(make_problem("too_large", detail))
