"""Climate and conditions over HTTP: as figures, or as a picture in the form asked for."""

import sys
from datetime import UTC, datetime, timedelta
from typing import Any

import msgspec
import pytest

from rindline_schema.problems import make_problem
from rindline_server.pages import files
from rindline_server.service import ProblemError
from tests.http.conftest import Told
from tests.http.stand_in import LOT, StandIn
from tests.pages.sample_lives import wheel_life
from tests.pages.samples import room_strip

_ROOM, _LIFE = "/v1/rooms/R2/climate", f"/v1/lots/{LOT}/conditions"
_BEGINNINGS = {
    "image/svg+xml": b"<svg ",
    "image/png": b"\x89PNG\r\n\x1a\n",
    "application/pdf": b"%PDF-",
    "application/json": b"{",
}


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Let the stand-in answer with the samples; gives the parameters it is asked with."""
    seen: list[Any] = []

    def climate(_self: StandIn, _caller: Any, room: str, params: Any) -> Any:
        seen.append(params)
        if room != "R2":
            raise ProblemError(make_problem("not_found", "There is no such room."))
        return room_strip()

    def conditions(_self: StandIn, _caller: Any, _lot: str, params: Any) -> Any:
        seen.append(params)
        return wheel_life()

    monkeypatch.setattr(StandIn, "climate", climate, raising=False)
    monkeypatch.setattr(StandIn, "conditions", conditions, raising=False)
    return seen


@pytest.mark.parametrize("path", [_ROOM, _LIFE])
@pytest.mark.parametrize(
    ("form", "accept", "media"),
    [
        (None, None, "application/json"),
        (None, "*/*", "application/json"),
        ("json", "image/png", "application/json"),
        ("svg", None, "image/svg+xml"),
        ("png", None, "image/png"),
        ("pdf", None, "application/pdf"),
        (None, "image/svg+xml", "image/svg+xml"),
        (None, "image/png", "image/png"),
        (None, "application/pdf;q=0.9, image/*;q=0.1", "application/pdf"),
        (None, "text/html", "application/json"),
    ],
)
def test_the_form_asked_for_is_given(
    app: Told, asked: list[Any], path: str, form: str | None, accept: str | None, media: str
) -> None:
    """`format` comes before Accept, and JSON is what who asks for nothing gets."""
    with app.client("manager") as client:
        told = client.get(
            path,
            params={"format": form} if form else {},
            headers={"accept": accept} if accept else {},
        )
    assert told.status_code == 200
    assert told.headers["content-type"] == media
    assert told.content.startswith(_BEGINNINGS[media])
    assert "Accept" in told.headers["vary"]
    assert asked[0].series == "none" if media == "application/json" else "days"


def test_a_picture_is_asked_with_what_it_shows(app: Told, asked: list[Any]) -> None:
    """Hours for a room's five weeks, days beyond, and what the caller asks for comes first."""
    until = datetime(2026, 9, 3, tzinfo=UTC)
    with app.client("manager") as client:
        for days in (1, 35, 36, 400):
            span = {
                "from_at": (until - timedelta(days=days)).isoformat(),
                "until_at": until.isoformat(),
            }
            client.get(_ROOM, params={"format": "svg", **span}).raise_for_status()
        client.get(_ROOM, params={"format": "svg"}).raise_for_status()
        client.get(_ROOM, params={"format": "svg", "series": "days"}).raise_for_status()
        client.get(_LIFE, params={"format": "svg"}).raise_for_status()
    assert [one.series for one in asked] == [
        *("hours", "hours", "days", "days"),
        "hours",
        "days",
        "days",
    ]


def test_a_short_life_is_shown_hour_by_hour(
    app: Told, asked: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A wheel of three weeks is asked for again by hours; its days would be a few steps."""
    told = wheel_life()
    path = told.paths[0]
    young = msgspec.structs.replace(path, until_at=path.from_at + timedelta(days=21))
    short = msgspec.structs.replace(told, paths=[young])

    def conditions(_self: StandIn, _caller: Any, _lot: str, params: Any) -> Any:
        asked.append(params)
        return short

    monkeypatch.setattr(StandIn, "conditions", conditions, raising=False)
    with app.client("manager") as client:
        client.get(_LIFE, params={"format": "svg"}).raise_for_status()
    assert [one.series for one in asked] == ["days", "hours"]


def test_a_room_that_is_not_there_has_no_picture(app: Told, asked: list[Any]) -> None:
    """The problem is the same in every form."""
    with app.client("manager") as client:
        for form in ("json", "svg", "png", "pdf"):
            told = client.get("/v1/rooms/R9/climate", params={"format": form})
            assert (told.status_code, told.json()["code"]) == (404, "not_found")


def test_a_picture_is_kept_by_its_tag(app: Told, asked: list[Any]) -> None:
    """Who holds the picture of this tag gets 304 and no body (RFC 9110, section 13.1.2)."""
    with app.client("manager") as client:
        for form in ("svg", "png", "pdf"):
            first = client.get(_ROOM, params={"format": form})
            again = client.get(
                _ROOM, params={"format": form}, headers={"if-none-match": first.headers["etag"]}
            )
            assert (again.status_code, again.content) == (304, b"")


def test_without_typst_it_says_what_to_install(
    app: Told, asked: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """`no_picture`, with the package to install; SVG is drawn all the same."""
    monkeypatch.setitem(sys.modules, "typst", None)
    files._compiler.cache_clear()
    with app.client("manager") as client:
        for path in (_ROOM, _LIFE):
            for form in ("png", "pdf"):
                told = client.get(path, params={"format": form})
                assert (told.status_code, told.json()["code"]) == (422, "no_picture")
                assert "rindline[labels]" in told.json()["detail"]
            assert client.get(path, params={"format": "svg"}).status_code == 200
