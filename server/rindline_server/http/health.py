"""Whether the server lives, and whether it can serve: for whoever restarts or routes around it."""

from importlib.metadata import version
from typing import Any

from rindline_schema.answers import Health
from rindline_server.http.desk import Asked, Desk
from rindline_server.http.queries import read_params
from rindline_server.http.replies import Reply, encode, plain_reply

__all__ = ["live", "ready"]

_VERSION = version("rindline")
_LIVE = encode(Health(status="ok", version=_VERSION))


async def live(_desk: Desk, asked: Asked, _receive: Any) -> Reply:
    """Answer that the process answers: no thread, no database."""
    read_params(asked.operation.params, asked.query)
    return plain_reply(_LIVE)


async def ready(desk: Desk, asked: Asked, _receive: Any) -> Reply:
    """Answer whether questions and events can be taken; 503 with the reason if not."""
    read_params(asked.operation.params, asked.query)
    amiss = await desk.threads.run(desk.service.ready)
    if amiss is None:
        return plain_reply(_LIVE)
    health = Health(status="not_ready", version=_VERSION, detail=amiss)
    reply = plain_reply(encode(health), status=503)
    reply.headers.append((b"retry-after", b"1"))
    return reply
