"""What the server answers beside the operations: documentation, problem pages, metrics.

Metrics need the key of an auditor or a manager: they tell how much a business does, and behind a
proxy every caller comes from this machine, so the caller's address protects nothing.
"""

from typing import Any

from rindline_schema.operations import Operation
from rindline_schema.problems import make_problem
from rindline_server.http.admission import admit
from rindline_server.http.desk import Asked, Desk
from rindline_server.http.docs_page import docs_page, problem_page
from rindline_server.http.html_page import CONTENT_SECURITY_POLICY
from rindline_server.http.openapi import document_text
from rindline_server.http.replies import Reply, plain_reply, whole_reply
from rindline_server.observe.metrics import METRICS_MEDIA_TYPE
from rindline_server.service import ProblemError

__all__ = ["SIDE_PAGES", "docs", "home", "metrics", "openapi", "problem"]

_ANYONE = frozenset({"nobody", "station", "manager", "auditor", "customer"})
_READERS = frozenset({"manager", "auditor"})
_HTML = "text/html; charset=utf-8"
_PUBLIC = b"public, no-cache"

SIDE_PAGES = (
    Operation("home", "GET", "/", "Go to the documentation.", _ANYONE, None, status=307),
    Operation("docs", "GET", "/docs", "Read the documentation.", _ANYONE, None),
    Operation("openapi", "GET", "/openapi.json", "Get the OpenAPI document.", _ANYONE, None),
    Operation("problem", "GET", "/problems/{code}", "Read about a problem.", _ANYONE, None),
    Operation("metrics", "GET", "/metrics", "Get the metrics.", _READERS, None),
)
"""Routes that are not part of the versioned interface, described like those that are."""


async def home(_desk: Desk, _asked: Asked, _receive: Any) -> Reply:
    """Lead who comes by a browser to the documentation."""
    return Reply(307, [(b"location", b"/docs"), (b"content-length", b"0")], b"")


async def docs(desk: Desk, asked: Asked, _receive: Any) -> Reply:
    """Answer the documentation page."""
    return await desk.threads.run(lambda: _html(asked, docs_page()))


async def openapi(desk: Desk, asked: Asked, _receive: Any) -> Reply:
    """Answer the OpenAPI document."""
    return await desk.threads.run(
        lambda: whole_reply(asked.exchange, document_text(), cache=_PUBLIC)
    )


async def problem(_desk: Desk, asked: Asked, _receive: Any) -> Reply:
    """Answer the page of one kind of problem."""
    try:
        text = problem_page(asked.path["code"])
    except KeyError:
        detail = "There is no problem of this code."
        raise ProblemError(make_problem("not_found", detail)) from None
    return _html(asked, text)


async def metrics(desk: Desk, asked: Asked, _receive: Any) -> Reply:
    """Answer the metrics in Prometheus's text format."""
    return await desk.threads.run(_metrics, desk, asked)


def _metrics(desk: Desk, asked: Asked) -> Reply:
    admit(desk.service, asked.operation, asked.exchange)
    desk.metrics.waiting(desk.service.waiting)
    text = desk.metrics.text(desk.service.head()[0])
    return plain_reply(text, media=METRICS_MEDIA_TYPE)


def _html(asked: Asked, text: bytes) -> Reply:
    reply = whole_reply(asked.exchange, text, media=_HTML, cache=_PUBLIC)
    reply.headers.append((b"content-security-policy", CONTENT_SECURITY_POLICY.encode()))
    return reply
