"""What a caller may keep, and what the server keeps itself."""

import gzip

import pytest

from tests.http.conftest import Told


def test_a_caller_who_has_the_answer_gets_304(app: Told) -> None:
    """The tag sent back gives 304 without a body, until the ledger moves on (RFC 9110, s. 13)."""
    with app.client("manager") as client:
        first = client.get("/v1/lots")
        tag = first.headers["etag"]
        again = client.get("/v1/lots", headers={"if-none-match": tag})
        assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
        app.service.seq += 1
        moved = client.get("/v1/lots", headers={"if-none-match": tag})
    assert moved.status_code == 200
    assert moved.headers["etag"] != tag


def test_every_answer_says_how_to_keep_it(app: Told) -> None:
    """Only the caller may keep an answer and must ask each time; what was told is not kept."""
    with app.client("manager") as client:
        asked = client.get("/v1/lots")
        told = client.post("/v1/events/batch", json=[])
    assert asked.headers["cache-control"] == "private, no-cache"
    assert set(asked.headers["vary"].split(", ")) == {"Authorization", "Accept", "Accept-Encoding"}
    assert told.headers["cache-control"] == "no-store"


def test_a_long_answer_is_zipped_for_those_who_want_it(app: Told) -> None:
    """The bytes are the same after unpacking; the zipped form has a tag of its own."""
    app.service.lots_answered = 100
    with app.client("manager") as client:
        plain = client.get("/v1/lots", headers={"accept-encoding": "identity"})
        zipped = client.get("/v1/lots", headers={"accept-encoding": "gzip"})
        tag = zipped.headers["etag"]
        headers = {"accept-encoding": "gzip", "if-none-match": tag}
        assert client.get("/v1/lots", headers=headers).status_code == 304
    assert "content-encoding" not in plain.headers
    assert zipped.headers["content-encoding"] == "gzip"
    assert zipped.content == plain.content
    assert int(zipped.headers["content-length"]) < len(plain.content) / 5
    assert tag != plain.headers["etag"]


def test_a_short_answer_is_not_zipped(app: Told) -> None:
    """What fits one packet is sent as it is."""
    with app.client("manager") as client:
        reply = client.get("/v1/lots", headers={"accept-encoding": "gzip"})
    assert "content-encoding" not in reply.headers


def test_the_same_zip_comes_out_every_time() -> None:
    """A strong tag promises the same bytes: so no time stamp inside the zip."""
    assert gzip.compress(b"a" * 5000, 5, mtime=0)[4:8] == b"\0\0\0\0"


def test_a_question_asked_again_is_answered_from_memory(app: Told) -> None:
    """While the ledger stands still the service is asked once; a moved head asks it anew."""
    with app.client("manager") as client:
        replies = [client.get("/v1/lots").content for _ in range(5)]
        assert (app.service.asked, len(set(replies))) == (1, 1)
        app.service.seq += 1
        assert client.get("/v1/lots").json()["as_of"] == app.service.seq
    assert app.service.asked == 2


@pytest.mark.parametrize("other", ["/v1/lots?limit=5", "/v1/lots?held=true"])
def test_another_question_is_another_answer(app: Told, other: str) -> None:
    """The memory keeps questions apart by their parameters."""
    with app.client("manager") as client:
        client.get("/v1/lots")
        client.get(other)
    assert app.service.asked == 2


def test_another_view_is_another_answer(app: Told) -> None:
    """Callers of other roles do not get one another's answers from memory."""
    for key in ("manager", "auditor", "station"):
        with app.client(key) as client:
            client.get("/v1/lots")
    assert app.service.asked == 3
