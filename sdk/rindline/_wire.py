"""Requests and answers as plain values, and what a transport must offer.

Nothing here does I/O: the core builds a :class:`Request`, a transport turns it into a
:class:`Response`, the core reads that. Header names of a response are lower case.
"""

from collections.abc import AsyncIterator, Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Generic, Protocol, TypeVar
from urllib.parse import urlencode

__all__ = [
    "AsyncOpened",
    "AsyncTransport",
    "Call",
    "Opened",
    "Request",
    "Response",
    "Transport",
]

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Request:
    """What is to be sent: ``path`` is percent-encoded, ``query`` is not."""

    method: str
    path: str
    query: tuple[tuple[str, str], ...] = ()
    body: bytes | None = field(default=None, repr=False)
    # Not in the repr: the key is in here.
    headers: Mapping[str, str] = field(default_factory=dict, repr=False)

    @property
    def target(self) -> str:
        """The path with its query string."""
        return f"{self.path}?{urlencode(self.query)}" if self.query else self.path


@dataclass(frozen=True, slots=True)
class Response:
    """What came back, whole."""

    status: int
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes = field(default=b"", repr=False)

    @property
    def ok(self) -> bool:
        """Whether the status is one of success."""
        return 200 <= self.status < 300


@dataclass(frozen=True, slots=True)
class Call(Generic[T]):
    """A request and how its answer is read.

    ``retried`` is False where the asker wants to know at once (the health questions). All other
    operations are safe to send again: questions change nothing, and events and drills carry
    ids of their own, so the server records each of them once.
    """

    request: Request
    parse: Callable[[Response], T]
    retried: bool = True


class Opened(Protocol):
    """An answer whose body is read bit by bit, decompressed; close it when done."""

    status: int
    headers: Mapping[str, str]

    def chunks(self) -> Iterator[bytes]:
        """Read the body; raises :class:`rindline.TransportError` if the connection fails."""
        ...

    def close(self) -> None:
        """Give the connection back."""
        ...


class AsyncOpened(Protocol):
    """As :class:`Opened`, for asyncio."""

    status: int
    headers: Mapping[str, str]

    def chunks(self) -> AsyncIterator[bytes]:
        """Read the body; raises :class:`rindline.TransportError` if the connection fails."""
        ...

    async def close(self) -> None:
        """Give the connection back."""
        ...


class Transport(Protocol):
    """What carries a request to a server; raises :class:`rindline.TransportError` only."""

    def send(self, request: Request, timeout_s: float) -> Response:
        """Send and read the whole answer within about ``timeout_s``."""
        ...

    def open(self, request: Request, timeout_s: float) -> Opened:
        """Send and read the answer's head; ``timeout_s`` bounds each wait for more."""
        ...

    def close(self) -> None:
        """Give up all connections."""
        ...


class AsyncTransport(Protocol):
    """As :class:`Transport`, for asyncio; other names, so that one object can be both."""

    async def send_async(self, request: Request, timeout_s: float) -> Response:
        """Send and read the whole answer within about ``timeout_s``."""
        ...

    async def open_async(self, request: Request, timeout_s: float) -> AsyncOpened:
        """Send and read the answer's head; ``timeout_s`` bounds each wait for more."""
        ...

    async def close_async(self) -> None:
        """Give up all connections."""
        ...
