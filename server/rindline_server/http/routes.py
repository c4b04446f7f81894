"""The application: a route for each operation of the catalogue, and a few pages beside them."""

import re
import threading
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from contextlib import asynccontextmanager
from typing import Any

from litestar import Litestar, Request, Response
from litestar.exceptions import HTTPException
from litestar.handlers import HTTPRouteHandler
from litestar.types import ASGIApp, ControllerRouterHandler

from rindline_schema.operations import OPERATIONS, Operation
from rindline_schema.problems import Problem, make_problem
from rindline_server.http.bodies import ClientGoneError
from rindline_server.http.desk import Asked, Desk, answer
from rindline_server.http.edge import Edge
from rindline_server.http.exchange import exchange_of
from rindline_server.http.health import live, ready
from rindline_server.http.kept_answers import KeptAnswers
from rindline_server.http.labels import label
from rindline_server.http.pictures import climate, conditions
from rindline_server.http.replies import PROBLEM_JSON, Reply, problem_reply
from rindline_server.http.side_pages import SIDE_PAGES, docs, home, metrics, openapi, problem
from rindline_server.http.telling import (
    reserve_codes,
    start_drill,
    tell,
    tell_from_outbox,
    tell_many,
    tell_readings,
    try_events,
)
from rindline_server.http.threads import Threads
from rindline_server.http.tracing import trace
from rindline_server.http.unexpected import unexpected_reply
from rindline_server.observe.metrics import Metrics
from rindline_server.service import ProblemError, Service
from rindline_server.settings import Settings
from rindline_server.store import StoreBusyError

__all__ = ["build_http_app"]

_Request = Request[Any, Any, Any]
_Handler = Callable[[Desk, Asked, Callable[[], Awaitable[Any]]], Awaitable[ASGIApp]]


async def _question(desk: Desk, asked: Asked, _receive: Any) -> ASGIApp:
    return await desk.threads.run(answer, desk, asked)


_HANDLERS: dict[str, _Handler] = {
    "tell": tell,
    "tell_many": tell_many,
    "try_events": try_events,
    "start_drill": start_drill,
    "tell_from_outbox": tell_from_outbox,
    "reserve_codes": reserve_codes,
    "tell_readings": tell_readings,
    "trace": trace,
    "label": label,
    "climate": climate,
    "conditions": conditions,
    "live": live,
    "ready": ready,
    "home": home,
    "docs": docs,
    "openapi": openapi,
    "problem": problem,
    "metrics": metrics,
}
"""The operations that are more than a question answered whole, and the pages beside them."""


def build_http_app(
    service: Service, settings: Settings, *, at_end: Callable[[], None] = lambda: None
) -> ASGIApp:
    """Build the ASGI application; its lifespan starts and stops the service, then ``at_end``."""
    desk = Desk(
        service,
        settings,
        Threads(settings.threads, settings.waiting),
        Metrics(),
        KeptAnswers(),
        threading.Semaphore(settings.threads),
    )

    @asynccontextmanager
    async def serving(_app: Litestar) -> AsyncIterator[None]:
        service.start()
        try:
            yield
        finally:
            service.stop(settings.stop_s / 2)
            desk.threads.close()
            at_end()

    every = (*OPERATIONS, *SIDE_PAGES)
    methods: dict[str, set[str]] = {}
    for operation in every:
        methods.setdefault(operation.path, {"OPTIONS"}).add(operation.method)
    handlers: list[ControllerRouterHandler] = [
        # These first: the framework's own answers to OPTIONS know but one method of a path.
        *(_options(path, sorted(allowed)) for path, allowed in methods.items()),
        *(_route(desk, one, _HANDLERS.get(one.name, _question)) for one in every),
    ]
    app = Litestar(
        handlers,
        lifespan=[serving],
        exception_handlers={Exception: _framework_error},
        # The document is our own; so are logs, and bodies are read by our own limits.
        openapi_config=None,
        logging_config=None,
        request_max_body_size=None,
    )
    return Edge(app, desk.metrics)


def _route(desk: Desk, operation: Operation, handler: _Handler) -> HTTPRouteHandler:
    async def handle(request: _Request) -> ASGIApp:
        scope = request.scope
        exchange = exchange_of(scope)
        exchange.route = operation.path
        asked = Asked(operation, exchange, scope["path_params"], scope["query_string"])
        try:
            return await handler(desk, asked, request.receive)
        except ProblemError as error:
            return problem_reply(exchange, error.problem)
        except StoreBusyError:
            return problem_reply(exchange, make_problem("busy", "The database has no turn free."))
        except ClientGoneError:
            raise
        except Exception as error:  # noqa: BLE001  (whatever it is, it must be answered)
            return unexpected_reply(exchange, error)

    return HTTPRouteHandler(
        _with_kinds(operation.path),
        http_method="POST" if operation.method == "POST" else "GET",
        status_code=operation.status,
        name=operation.name,
    )(handle)


def _options(path: str, methods: Sequence[str]) -> HTTPRouteHandler:
    async def handle() -> ASGIApp:
        return Reply(204, [(b"allow", ", ".join(methods).encode())], b"")

    return HTTPRouteHandler(_with_kinds(path), http_method="OPTIONS", status_code=200)(handle)


def _with_kinds(path: str) -> str:
    """Say of each part that varies what the framework wants to know: that it is a text."""
    return re.sub(r"\{(\w+)\}", r"{\1:str}", path)


def _framework_error(request: _Request, error: Exception) -> Response[bytes]:
    """Turn what the framework refuses before any handler runs into a problem."""
    if not isinstance(error, HTTPException) or error.status_code >= 500:
        raise error
    reply = problem_reply(exchange_of(request.scope), _problem_of(error))
    headers = {name: value for name, value in (error.headers or {}).items() if name == "allow"}
    headers["cache-control"] = "no-store"
    return Response(reply.body, status_code=reply.status, headers=headers, media_type=PROBLEM_JSON)


def _problem_of(error: HTTPException) -> Problem:
    if error.status_code == 404:
        return make_problem("not_found", "There is nothing at this address.")
    if error.status_code == 405:
        return make_problem("method_not_allowed", "This address takes other methods.")
    return make_problem("malformed", "The request can't be read.")
