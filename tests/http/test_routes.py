"""Which addresses there are, and what they say to methods they do not take."""

import re
from collections import defaultdict

import pytest
from litestar import Litestar

from rindline_schema.operations import OPERATIONS
from rindline_server.http import build_http_app
from rindline_server.http.edge import Edge
from rindline_server.http.questions import QUESTIONS
from rindline_server.http.side_pages import SIDE_PAGES
from rindline_server.settings import Settings
from tests.http.conftest import Told
from tests.http.stand_in import StandIn, as_service

_EVERY = [(one.method, one.path) for one in (*OPERATIONS, *SIDE_PAGES)]


def test_the_routes_are_those_of_the_catalogue() -> None:
    """No route beside the catalogue and the listed side pages, and none of these missing."""
    edge = build_http_app(as_service(StandIn()), Settings())
    assert isinstance(edge, Edge)
    framework = edge._app
    assert isinstance(framework, Litestar)
    routes = {
        (method, re.sub(r":str\}", "}", route.path_format))
        for route in framework.routes
        for method in route.methods
    }
    assert {route for route in routes if route[0] != "OPTIONS"} == set(_EVERY)


def test_every_question_is_an_operation() -> None:
    """The table of questions names operations that take no body, and nothing else."""
    reading = {one.name for one in OPERATIONS if one.body is None}
    assert set(QUESTIONS) == reading - {"label", "trace", "live", "ready"}


@pytest.mark.parametrize("path", sorted({path for _, path in _EVERY}))
def test_an_address_tells_its_methods(app: Told, path: str) -> None:
    """OPTIONS lists them, any other method is refused with the list (RFC 9110, s. 15.5.6)."""
    allowed: dict[str, set[str]] = defaultdict(set)
    for method, one in _EVERY:
        allowed[one] |= {method, "OPTIONS"}
    address = re.sub(r"\{\w+\}", "X1", path)
    with app.client("manager") as client:
        told = client.options(address)
        assert (told.status_code, set(told.headers["allow"].split(", "))) == (204, allowed[path])
        refused = client.request("PATCH", address)
    assert refused.status_code == 405
    assert refused.json()["code"] == "method_not_allowed"
    assert set(refused.headers["allow"].split(", ")) == allowed[path]


def test_head_is_get_without_the_body(app: Told) -> None:
    """HEAD gets the same status and headers, and nothing after them (RFC 9110, s. 9.3.2)."""
    with app.client("manager") as client:
        whole, headers_only = client.get("/v1/lots"), client.head("/v1/lots")
    assert headers_only.status_code == 200
    assert headers_only.content == b""
    assert headers_only.headers["etag"] == whole.headers["etag"]
    assert headers_only.headers["content-length"] == whole.headers["content-length"]


@pytest.mark.parametrize("path", ["/v1/nothing", "/v2/lots", "/v1/lots/a/b/c/d", "/%2e%2e/etc"])
def test_an_unknown_address_is_a_problem_like_any_other(app: Told, path: str) -> None:
    """404 as problem details, with a key or without: it tells nothing about what there is."""
    with app.client() as client:
        reply = client.get(path)
    assert (reply.status_code, reply.json()["code"]) == (404, "not_found")


def test_the_home_page_leads_to_the_documentation(app: Told) -> None:
    """Who opens the server's address in a browser finds the documentation, whole in one page."""
    with app.client() as client:
        home = client.get("/")
        assert (home.status_code, home.headers["location"]) == (307, "/docs")
        page = client.get("/docs")
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    for one in OPERATIONS:
        assert f'<h2 id="{one.name}">' in page.text
    # Nothing is loaded from anywhere: no script, no image, no style sheet, no foreign address.
    assert not re.search(r"<(script|img|link|iframe)|@import|url\(|https?://(?!127)", page.text)
    policy = page.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
