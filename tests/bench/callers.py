"""Callers: processes apart from the bench's own, that begin at one moment.

Two of them, since more would only wait for one another on the few cores they share with the
server.
"""

import multiprocessing
import selectors
import socket
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from multiprocessing.synchronize import Barrier
from time import perf_counter
from typing import Any, Self, TypeVar

import msgspec

from rindline import Client, RindlineError
from rindline_schema.answers import Reading, Refused
from rindline_schema.events import Event

__all__ = ["PROCESSES", "Callers"]

PROCESSES = 2

_T = TypeVar("_T")
_Span = tuple[float, float]

_MEET_S = 60.0
_READ_BYTES = 65_536
_EVENTS = msgspec.json.Decoder(list[Event])
_READINGS = msgspec.json.Decoder(list[Reading])
_starting: Barrier | None = None


class Callers:
    """The processes; close them, or use ``with``. Each job gives the seconds it took in all."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._pool = ProcessPoolExecutor(
            PROCESSES, context, initializer=_join, initargs=(context.Barrier(PROCESSES),)
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self._pool.shutdown(cancel_futures=True)

    def ask(self, address: tuple[str, int], requests: Sequence[bytes], connections: int) -> float:
        """Send whole GET requests over kept connections, one at a time on each; all must be 200."""
        each = connections // PROCESSES
        return self._share(requests, lambda part: (_ask, address, list(part), each))

    def tell(self, server: str, key: str, events: Sequence[Event], callers: int) -> float:
        """Tell events one by one through the SDK; all must be recorded."""
        each = callers // PROCESSES
        return self._share(
            events, lambda part: (_tell, server, key, msgspec.json.encode(part), each)
        )

    def tell_many(self, server: str, key: str, events: Sequence[Event], batch: int) -> float:
        """Tell events in batches through the SDK, one batch after another in each process."""
        batches = [events[start : start + batch] for start in range(0, len(events), batch)]
        return self._share(
            batches,
            lambda part: (_tell_many, server, key, [msgspec.json.encode(one) for one in part]),
        )

    def tell_readings(self, server: str, key: str, told: Sequence[Reading], batch: int) -> float:
        """Tell readings in batches, as :meth:`tell_many` does events; all must be new."""
        batches = [told[start : start + batch] for start in range(0, len(told), batch)]
        return self._share(
            batches,
            lambda part: (_tell_readings, server, key, [msgspec.json.encode(one) for one in part]),
        )

    def _share(self, items: Sequence[_T], job: Callable[[Sequence[_T]], tuple[Any, ...]]) -> float:
        """Give each process its part; from the first one's beginning to the last one's end."""
        futures = [self._pool.submit(*job(items[first::PROCESSES])) for first in range(PROCESSES)]
        spans: list[_Span] = [future.result() for future in futures]
        # All processes of a machine read the same monotonic clock.
        return max(end for _, end in spans) - min(began for began, _ in spans)


@contextmanager
def _client(server: str, key: str) -> Iterator[Client]:
    """Hold a client with a connection; what it raises is told in words that leave a process."""
    try:
        with Client(server, key) as client:
            client.whoami()
            yield client
    except RindlineError as error:
        raise RuntimeError(str(error)) from None


def _join(barrier: Barrier) -> None:
    global _starting  # noqa: PLW0603 - a pool's initializer has nowhere else to put it
    _starting = barrier


def _meet() -> float:
    """Wait for the other process; gives the moment."""
    assert _starting is not None
    _starting.wait(_MEET_S)
    return perf_counter()


def _tell(server: str, key: str, body: bytes, callers: int) -> _Span:
    events = _EVENTS.decode(body)
    with _client(server, key) as client, ThreadPoolExecutor(callers) as threads:
        began = _meet()
        # A refusal is raised.
        for _ in threads.map(client.tell, events):
            pass
        return began, perf_counter()


def _tell_many(server: str, key: str, bodies: list[bytes]) -> _Span:
    batches = [_EVENTS.decode(body) for body in bodies]
    with _client(server, key) as client:
        began = _meet()
        refused = [
            outcome
            for batch in batches
            for outcome in client.tell_many(batch)
            if isinstance(outcome, Refused)
        ]
        ended = perf_counter()
    if refused:
        message = f"{len(refused)} events were refused, the first because {refused[0].problem}"
        raise RuntimeError(message)
    return began, ended


def _tell_readings(server: str, key: str, bodies: Sequence[bytes]) -> _Span:
    batches = [_READINGS.decode(body) for body in bodies]
    with _client(server, key) as client:
        began = _meet()
        for batch in batches:
            answer = client.tell_readings(batch)
            if answer.recorded != len(batch):
                raise RuntimeError(str(answer))
        return began, perf_counter()


def _ask(address: tuple[str, int], requests: list[bytes], connections: int) -> _Span:
    waiting = iter(requests)
    with selectors.DefaultSelector() as selector:
        sockets = [socket.create_connection(address) for _ in range(connections)]
        for each in sockets:
            each.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        began = _meet()
        open_sockets = 0
        for each, request in zip(sockets, waiting, strict=False):
            selector.register(each, selectors.EVENT_READ, bytearray())
            each.sendall(request)
            open_sockets += 1
        while open_sockets:
            for ready, _ in selector.select():
                each = ready.fileobj  # type: ignore[assignment]  # only sockets were registered
                ready.data.extend(each.recv(_READ_BYTES))
                if not _is_whole(ready.data):
                    continue
                ready.data.clear()
                if (request := next(waiting, b"")) != b"":
                    each.sendall(request)
                else:
                    selector.unregister(each)
                    open_sockets -= 1
        ended = perf_counter()
        for each in sockets:
            each.close()
    return began, ended


def _is_whole(answer: bytearray) -> bool:
    """Tell whether a whole answer has come; raises RuntimeError if it is not a 200."""
    head, end, body = answer.partition(b"\r\n\r\n")
    if not end:
        if not answer:
            raise RuntimeError("the server closed the connection")
        return False
    if not head.startswith(b"HTTP/1.1 200 "):
        raise RuntimeError(answer.decode("latin-1"))
    start = head.lower().index(b"content-length:") + len(b"content-length:")
    return len(body) >= int(head[start:].split(b"\r\n", 1)[0])
