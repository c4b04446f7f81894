"""Problems: everything that goes wrong is told the same way."""

import pytest

from rindline_schema.problems import PROBLEMS, make_problem
from rindline_server.service import ProblemError
from rindline_server.store import StoreBusyError
from tests.http.conftest import Told


def test_a_problem_carries_what_helps(app: Told) -> None:
    """The members RFC 9457 names, ours, and the request's id; not kept by any cache."""
    with app.client("manager") as client:
        reply = client.get("/v1/drills")
    assert reply.headers["content-type"] == "application/problem+json"
    assert reply.headers["cache-control"] == "no-store"
    problem = reply.json()
    assert problem["type"] == "/problems/bad_cursor"
    assert problem["status"] == reply.status_code == 400
    assert problem["what_to_do"] == PROBLEMS["bad_cursor"].what_to_do
    assert problem["request_id"] == reply.headers["x-request-id"]


def test_what_nobody_expected_is_a_problem_too(app: Told) -> None:
    """A fault in the server answers 500 as a problem and tells nothing of its inside."""
    app.service.raises = RuntimeError("the secret of line 7")
    with app.client("manager") as client:
        reply = client.get("/v1/lots")
    assert (reply.status_code, reply.json()["code"]) == (500, "internal")
    assert "secret" not in reply.text


@pytest.mark.parametrize("code", ["busy", "stopping"])
def test_who_may_come_again_is_told_when(app: Told, code: str) -> None:
    """503 carries Retry-After (RFC 9110, section 10.2.3) and says that it is worth while."""
    app.service.raises = ProblemError(make_problem(code, "Later."))
    with app.client("station") as client:
        reply = client.post("/v1/events/batch", json=[])
    assert (reply.status_code, reply.json()["code"]) == (503, code)
    assert reply.headers["retry-after"] == "1"
    assert reply.json()["retryable"] is True


def test_a_database_without_a_free_turn_is_no_fault_of_the_server(app: Told) -> None:
    """When all connections are taken for too long the caller is told to come back."""
    app.service.raises = StoreBusyError("no connection came free")
    with app.client("manager") as client:
        reply = client.get("/v1/lots")
    assert (reply.status_code, reply.json()["code"]) == (503, "busy")


@pytest.mark.parametrize(
    "authorization",
    [
        None,
        "",
        "Bearer",
        "Bearer ",
        "Basic c3RhdGlvbjp4",
        "Bearer nobody",
        "Bearer \u00e4",
        "manager",
    ],
)
def test_without_a_known_key_there_is_nothing(app: Told, authorization: str | None) -> None:
    """401 with the scheme to use (RFC 9110, section 11.6.1), whatever was sent instead."""
    headers: dict[bytes, bytes] = {}
    if authorization is not None:
        headers[b"authorization"] = authorization.encode("latin-1")
    with app.client() as client:
        reply = client.get("/v1/lots", headers=headers)
    assert (reply.status_code, reply.json()["code"]) == (401, "unauthorized")
    assert reply.headers["www-authenticate"] == 'Bearer realm="rindline"'


def test_the_scheme_is_read_in_any_case(app: Told) -> None:
    """The name of an authentication scheme has no case (RFC 9110, section 11.1)."""
    with app.client() as client:
        assert client.get("/v1/key", headers={"authorization": "bearer auditor"}).is_success


@pytest.mark.parametrize(
    ("given", "taken"),
    [("0123456789abcdef", True), ("my.own_id-7", True), ("short", False), ("a b c d e f", False)],
)
def test_a_callers_own_request_id_is_taken_up_if_it_is_sound(
    app: Told, given: str, taken: bool
) -> None:
    """A caller can find its request in the server's log; nobody can write into that log."""
    with app.client() as client:
        reply = client.get("/health/live", headers={"x-request-id": given})
    assert (reply.headers["x-request-id"] == given) is taken


@pytest.mark.parametrize("code", PROBLEMS)
def test_every_problem_has_a_page(app: Told, code: str) -> None:
    """The URI in `type` leads to a page that says what it means and what to do."""
    with app.client() as client:
        page = client.get(f"/problems/{code}")
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    assert code in page.text
    assert PROBLEMS[code].title in page.text


def test_a_problem_there_is_not_has_no_page(app: Told) -> None:
    """Another code is an address like any other that isn't there."""
    with app.client() as client:
        assert client.get("/problems/nothing").status_code == 404


def test_too_many_headers_are_refused(app: Told) -> None:
    """More bytes of headers than are needed for anything: 431 (RFC 6585, section 5)."""
    with app.client() as client:
        assert client.get("/health/live", headers={"x": "a" * 15_000}).is_success
        reply = client.get("/health/live", headers={"x": "a" * 17_000})
    assert (reply.status_code, reply.json()["code"]) == (431, "headers_too_large")


def test_a_host_that_is_none_is_refused(app: Told) -> None:
    """What the framework itself refuses becomes a problem like the rest."""
    with app.client() as client:
        reply = client.get("/health/live", headers={"host": "a b"})
    assert (reply.status_code, reply.json()["code"]) == (400, "malformed")


def test_readiness_says_what_is_amiss(app: Told) -> None:
    """503 with the reason while the server can't serve, 200 once it can; it lives either way."""
    app.service.amiss = "the database is not there"
    with app.client() as client:
        reply = client.get("/health/ready")
        assert (reply.status_code, reply.json()["status"]) == (503, "not_ready")
        assert reply.json()["detail"] == "the database is not there"
        assert client.get("/health/live").json()["status"] == "ok"
        app.service.amiss = None
        assert client.get("/health/ready").json()["status"] == "ok"
