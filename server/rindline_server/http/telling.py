"""The handlers that take a body: events told or tried, readings told, drills started."""

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import Future
from typing import Any, TypeVar

from rindline_schema.answers import BatchAnswer, DryRunAnswer, Outcome, Refused, Told
from rindline_schema.params import BatchParams
from rindline_server.http.admission import admit, admit_at_once
from rindline_server.http.bodies import read_body
from rindline_server.http.decoding import (
    decode_block,
    decode_drill,
    decode_event,
    decode_events,
)
from rindline_server.http.desk import Asked, Desk
from rindline_server.http.outbox_body import decode_outbox
from rindline_server.http.queries import read_params
from rindline_server.http.readings_body import decode_readings
from rindline_server.http.replies import Reply, encode, plain_reply
from rindline_server.service import Caller, ProblemError

__all__ = [
    "reserve_codes",
    "start_drill",
    "tell",
    "tell_from_outbox",
    "tell_many",
    "tell_readings",
    "try_events",
]

_Receive = Callable[[], Awaitable[Any]]
_T = TypeVar("_T")

_LARGE_BODY_BYTES = 16 * 1024  # decoding more than this would hold up everybody else


async def tell(desk: Desk, asked: Asked, receive: _Receive) -> Reply:
    """Tell one event: 201 with what became of it, or the problem it met."""
    caller, body = await _taken(desk, asked, receive)

    def put() -> "Future[list[Outcome]]":
        return desk.service.tell(caller, [decode_event(body)])

    outcome = (await _told(desk, await _on(desk, body, put)))[0]
    if isinstance(outcome, Refused):
        raise ProblemError(outcome.problem)
    return plain_reply(encode(outcome), status=201)


async def tell_many(desk: Desk, asked: Asked, receive: _Receive) -> Reply:
    """Tell a batch: an outcome for each event, in their order."""
    caller, body = await _taken(desk, asked, receive)
    params = read_params(BatchParams, asked.query)

    def put() -> "Future[list[Outcome]]":
        told = decode_events(body)
        return desk.service.tell(caller, told, all_or_nothing=params.all_or_nothing)

    outcomes = await _told(desk, await _on(desk, body, put))
    return _batch_reply(outcomes)


def _batch_reply(outcomes: list[Outcome]) -> Reply:
    refused, replayed = _counts(outcomes)
    answer = BatchAnswer(
        outcomes=outcomes,
        recorded=len(outcomes) - refused,
        refused=refused,
        replayed=replayed,
    )
    return plain_reply(encode(answer))


async def tell_from_outbox(desk: Desk, asked: Asked, receive: _Receive) -> Reply:
    """Tell what a station's outbox holds: an outcome for each event, in their order."""
    caller, body = await _taken(desk, asked, receive)

    def put() -> "Future[list[Outcome]]":
        return desk.service.tell_outbox(caller, *decode_outbox(body))

    return _batch_reply(await _told(desk, await _on(desk, body, put)))


async def tell_readings(desk: Desk, asked: Asked, receive: _Receive) -> Reply:
    """Tell readings of sensors: how many are new, which are refused."""
    caller, body = await _taken(desk, asked, receive)
    told = await desk.threads.run(lambda: desk.service.tell_readings(caller, decode_readings(body)))
    desk.metrics.read(recorded=told.recorded, repeated=told.repeated, refused=len(told.refused))
    return plain_reply(encode(told))


async def reserve_codes(desk: Desk, asked: Asked, receive: _Receive) -> Reply:
    """Reserve a block of lot codes."""
    caller, body = await _taken(desk, asked, receive)
    block = await desk.threads.run(lambda: desk.service.reserve_codes(caller, decode_block(body)))
    return plain_reply(encode(block), status=201)


async def try_events(desk: Desk, asked: Asked, receive: _Receive) -> Reply:
    """Ask what telling these events would answer."""
    caller, body = await _taken(desk, asked, receive)
    outcomes = await desk.threads.run(lambda: desk.service.try_events(caller, decode_events(body)))
    return plain_reply(encode(DryRunAnswer(outcomes=outcomes)))


async def start_drill(desk: Desk, asked: Asked, receive: _Receive) -> Reply:
    """Run a drill and keep its answer."""
    caller, body = await _taken(desk, asked, receive)
    drill = await desk.threads.run(lambda: desk.service.start_drill(caller, decode_drill(body)))
    return plain_reply(encode(drill), status=201)


async def _taken(desk: Desk, asked: Asked, receive: _Receive) -> tuple[Caller, bytes]:
    """Take a request in: first who sends it, then its query, only then its body."""
    who = desk.service, asked.operation, asked.exchange
    # A thread's turn costs more than all else there is to do with a small event.
    caller = admit_at_once(*who)
    if caller is None:
        caller = await desk.threads.run(admit, *who)
    read_params(asked.operation.params, asked.query)
    return caller, await read_body(asked.exchange, receive, desk.settings.body_s)


async def _on(desk: Desk, body: bytes, work: Callable[[], _T]) -> _T:
    """Work on a body here if it is small, else in a thread."""
    if len(body) > _LARGE_BODY_BYTES:
        return await desk.threads.run(work)
    return work()


async def _told(desk: Desk, future: "Future[list[Outcome]]") -> list[Outcome]:
    """Wait for the writer's outcomes without holding a thread, and count them."""
    desk.metrics.waiting(desk.service.waiting)
    # Shielded: what the writer has taken is told whether or not the caller still waits.
    outcomes = await asyncio.shield(asyncio.wrap_future(future))
    desk.metrics.waiting(desk.service.waiting)
    refused, replayed = _counts(outcomes)
    desk.metrics.told(
        recorded=len(outcomes) - refused - replayed, refused=refused, replayed=replayed
    )
    return outcomes


def _counts(outcomes: Sequence[Outcome]) -> tuple[int, int]:
    """Count the refused and the replayed."""
    refused = sum(isinstance(outcome, Refused) for outcome in outcomes)
    return refused, sum(isinstance(outcome, Told) and outcome.replay for outcome in outcomes)
