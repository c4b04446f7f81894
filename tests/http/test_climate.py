"""The air of rooms over HTTP, on a real record: readings in, climate and sensors out."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import httpx
import pytest

from rindline_server.http.openapi.event_examples import example_time
from tests.contract.record import Record
from tests.databases import migrated_sqlite, session_folder

_BEGIN = example_time(1).replace(minute=0, second=0, microsecond=0)


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    """The documentation's story, and a day of readings of the sensor in RIPE-1."""
    file = tmp_path_factory.mktemp("climate") / "record.db"
    with Record(str(migrated_sqlite(session_folder(), file))) as record:
        record.tell_story()
        readings = [
            {
                "sensor": "S-RIPE",
                "at": (_BEGIN + timedelta(minutes=10 * n)).isoformat(),
                "temperature_c": 11.5 + n % 2,
                "humidity_pct": 90.25,
            }
            for n in range(145)
        ]
        with record.manager() as client:
            reply = client.post("/v1/readings", json={"readings": readings})
        assert reply.json()["recorded"] == 145
        yield record


@pytest.fixture
def client(record: Record) -> Iterator[httpx.Client]:
    with record.client(record.key("auditor")) as client:
        yield client


def _window(hours: int, offset: str = "Z") -> dict[str, Any]:
    until = (_BEGIN + timedelta(hours=hours)).replace(tzinfo=None)
    return {
        "from_at": _BEGIN.isoformat().replace("+00:00", "Z"),
        "until_at": f"{until.isoformat()}{offset}",
    }


def test_a_day_of_a_room(client: httpx.Client) -> None:
    """A day that swings between two values: its mean lies in the middle, nothing is missing."""
    answer = client.get("/v1/rooms/RIPE-1/climate", params=_window(24)).json()
    figures = answer["figures"]
    assert answer["room"] == "RIPE-1"
    assert (figures["hours"], figures["observed_hours"], figures["unobserved_hours"]) == (24, 24, 0)
    assert figures["temperature"]["mean_c"] == 12
    assert figures["humidity"]["p50_pct"] == 90.25
    assert figures["readings"] == 144
    assert [one["sensor"] for one in answer["sensors"]] == ["S-RIPE"]
    assert answer["rule"] == "trapezoid"
    assert "series" not in answer


def test_times_may_have_any_offset(client: httpx.Client) -> None:
    """A plus sign in a query is written %2B; the moment counts, not how it is written."""
    plain = client.get("/v1/rooms/RIPE-1/climate", params=_window(6)).json()
    shifted = client.get("/v1/rooms/RIPE-1/climate", params=_window(8, "+02:00")).json()
    assert shifted == plain


def test_hour_by_hour(client: httpx.Client) -> None:
    """With series=hours every hour of the day is there, in order."""
    params = _window(24) | {"series": "hours"}
    series = client.get("/v1/rooms/RIPE-1/climate", params=params).json()["series"]
    assert len(series) == 24
    assert [one["at"] for one in series] == sorted(one["at"] for one in series)
    assert {one["observed_minutes"] for one in series} == {60}


def test_another_base(client: httpx.Client) -> None:
    """Degree-hours above 12 of a swing from 11.5 to 12.5: an eighth of a degree in the mean."""
    params = _window(24) | {"base_c": "12"}
    figures = client.get("/v1/rooms/RIPE-1/climate", params=params).json()["figures"]
    assert figures["degree_hours_base_c"] == 12
    assert figures["degree_hours_c_h"] == pytest.approx(24 / 8, abs=1e-6)


@pytest.mark.parametrize(
    "params",
    [
        {"from_at": "2026-03-02T00:00:00Z", "until_at": "2026-03-01T00:00:00Z"},
        {"from_at": "2024-01-01T00:00:00Z", "until_at": "2026-03-01T00:00:00Z"},
        {"from_at": "0001-01-01T00:00:00Z"},
        {"until_at": "0001-01-01T00:00:00+14:00"},
        {"until_at": "9999-12-31T23:59:59-14:00"},
        {"from_at": "2026-03-02T00:00:00"},
        {"series": "weeks"},
    ],
    ids=["backwards", "too_long", "long_ago", "before_time", "after_time", "no_offset", "series"],
)
def test_what_can_not_be_asked(client: httpx.Client, params: dict[str, str]) -> None:
    """A time that is none is a fault of the parameter, named in the problem."""
    reply = client.get("/v1/rooms/RIPE-1/climate", params=params)
    assert reply.status_code == 400
    problem = reply.json()
    assert problem["code"] == "unknown_parameter"
    assert {fault["pointer"] for fault in problem["faults"]} <= params.keys()


@pytest.mark.parametrize("room", ["NOWHERE", "no room", "S-RIPE", "%00"])
def test_rooms_that_are_none(client: httpx.Client, room: str) -> None:
    """A room nobody declared, and what can be the name of none, are not found."""
    assert client.get(f"/v1/rooms/{room}/climate").status_code == 404


def test_the_list_of_sensors(client: httpx.Client) -> None:
    """The sensor is listed with its room, its site and what it showed last."""
    (sensor,) = client.get("/v1/sensors").json()["sensors"]
    assert (sensor["sensor"], sensor["room"], sensor["site"]) == ("S-RIPE", "RIPE-1", "QM")
    assert (sensor["last_temperature_c"], sensor["last_humidity_pct"]) == (11.5, 90.25)
    assert sensor["silent_minutes"] > 0
    # The very same humidity all day, but not the very same temperature: no doubt.
    assert "doubts" not in sensor


def test_a_cursor_of_another_list(client: httpx.Client) -> None:
    """A cursor that is none of ours is refused."""
    reply = client.get("/v1/sensors", params={"cursor": "%"})
    assert (reply.status_code, reply.json()["code"]) == (400, "bad_cursor")
