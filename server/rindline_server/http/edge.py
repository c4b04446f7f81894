"""The outermost layer, around the framework: ids, limits on headers, logs, metrics, last resort.

One plain ASGI layer, because each further one is paid for by every request.
"""

from collections.abc import Awaitable, Callable
from time import perf_counter
from typing import Any

from rindline_schema.problems import make_problem
from rindline_server.http.bodies import ClientGoneError
from rindline_server.http.exchange import Exchange
from rindline_server.http.replies import problem_reply
from rindline_server.http.unexpected import LOG, log_unexpected, unexpected_reply
from rindline_server.observe.metrics import Metrics

__all__ = ["MAX_HEADER_BYTES", "Edge"]

MAX_HEADER_BYTES = 16 * 1024

_Send = Callable[[Any], Awaitable[None]]
_Receive = Callable[[], Awaitable[Any]]
_App = Callable[[Any, _Receive, _Send], Awaitable[None]]


class Edge:
    """Wraps the application; itself an ASGI application."""

    def __init__(self, app: _App, metrics: Metrics) -> None:
        self._app = app
        self._metrics = metrics

    async def __call__(self, scope: Any, receive: _Receive, send: _Send) -> None:
        """Pass one request through, and see that it gets an answer and a line in the log."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        exchange = Exchange(scope)
        request_id = exchange.request_id.encode()
        bodiless = exchange.method == "HEAD"
        if bodiless:
            scope["method"] = "GET"

        async def answer(message: Any) -> None:
            if message["type"] == "http.response.start":
                exchange.status = message["status"]
                message["headers"] = [
                    *message["headers"],
                    (b"x-request-id", request_id),
                    (b"x-content-type-options", b"nosniff"),
                ]
            elif bodiless:
                message = {**message, "body": b""}
            await send(message)

        self._metrics.in_flight.inc()
        try:
            await self._pass_on(exchange, scope, receive, answer)
        finally:
            self._metrics.in_flight.dec()
            self._finish(exchange)

    async def _pass_on(
        self, exchange: Exchange, scope: Any, receive: _Receive, send: _Send
    ) -> None:
        try:
            if exchange.header_bytes > MAX_HEADER_BYTES:
                detail = f"The headers may have at most {MAX_HEADER_BYTES} bytes."
                problem = make_problem("headers_too_large", detail)
                await problem_reply(exchange, problem)(scope, receive, send)
            else:
                await self._app(scope, receive, send)
        except ClientGoneError:
            exchange.status = 499  # in the log only: nobody is there to get it
        except Exception as error:
            if exchange.status == 0:
                await unexpected_reply(exchange, error)(scope, receive, send)
                return
            if exchange.note is None:
                log_unexpected(exchange, error)
            # The answer has begun: only breaking the connection tells that it is not whole.
            raise

    def _finish(self, exchange: Exchange) -> None:
        took_s = perf_counter() - exchange.started_s
        self._metrics.answered(exchange.method, exchange.route, exchange.status, took_s)
        LOG.info(
            "request",
            extra={
                "fields": {
                    "request_id": exchange.request_id,
                    "method": exchange.method,
                    "route": exchange.route,
                    "status": exchange.status,
                    "took_ms": round(took_s * 1000, 2),
                    "key": exchange.key,
                    **({"note": exchange.note} if exchange.note else {}),
                }
            },
        )
