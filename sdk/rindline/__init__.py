"""Rindline's SDK: tell what happened to milk and cheese, ask where every piece came from and went.

``Client`` for ordinary code, ``AsyncClient`` for asyncio, ``Outbox`` and ``AsyncOutbox`` for
stations on a bad network, ``ReadingOutbox`` and ``AsyncReadingOutbox`` for loggers, ``EventMaker``
for events to be told later; a logger's export is read by :mod:`rindline.logger_files`. Events,
answers and codes are in :mod:`rindline_schema`, a stand-in server in :mod:`rindline.testing`.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rindline._clock import Clock
    from rindline._retries import RetryPolicy
    from rindline._telling import EventMaker
    from rindline._wire import AsyncTransport, Request, Response, Transport
    from rindline.async_client import AsyncClient
    from rindline.client import Client
    from rindline.errors import (
        CutShortError,
        DeadlineError,
        DiskFullError,
        ForbiddenError,
        InvalidInputError,
        InvalidRequestError,
        NoCodesError,
        NotFoundError,
        OutboxError,
        ProblemError,
        RefusedError,
        RindlineError,
        TransportError,
        UnauthorizedError,
        UnavailableError,
        UnexpectedAnswerError,
        problem_error,
    )
    from rindline.outbox import AsyncOutbox, AsyncReadingOutbox, Outbox, ReadingOutbox

__all__ = [
    "AsyncClient",
    "AsyncOutbox",
    "AsyncReadingOutbox",
    "AsyncTransport",
    "Client",
    "Clock",
    "CutShortError",
    "DeadlineError",
    "DiskFullError",
    "EventMaker",
    "ForbiddenError",
    "InvalidInputError",
    "InvalidRequestError",
    "NoCodesError",
    "NotFoundError",
    "Outbox",
    "OutboxError",
    "ProblemError",
    "ReadingOutbox",
    "RefusedError",
    "Request",
    "Response",
    "RetryPolicy",
    "RindlineError",
    "Transport",
    "TransportError",
    "UnauthorizedError",
    "UnavailableError",
    "UnexpectedAnswerError",
    "problem_error",
]

# A name is imported when it is first asked for: a station's script should start at once.
_HOMES = {
    "AsyncClient": "rindline.async_client",
    "AsyncOutbox": "rindline.outbox",
    "AsyncReadingOutbox": "rindline.outbox",
    "AsyncTransport": "rindline._wire",
    "Client": "rindline.client",
    "Clock": "rindline._clock",
    "EventMaker": "rindline._telling",
    "Outbox": "rindline.outbox",
    "ReadingOutbox": "rindline.outbox",
    "Request": "rindline._wire",
    "Response": "rindline._wire",
    "RetryPolicy": "rindline._retries",
    "Transport": "rindline._wire",
}


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module 'rindline' has no attribute {name!r}")
    value = getattr(import_module(_HOMES.get(name, "rindline.errors")), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
