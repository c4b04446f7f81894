"""Readings over HTTP: what is taken in, and that a bad reading harms no other."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline_schema.answers import Reading
from rindline_schema.answers.readings import MAX_READINGS
from rindline_schema.events import Declare
from rindline_schema.operations import MAX_BODY_BYTES
from rindline_schema.problems import Problem
from rindline_schema.registers import Room, Sensor, Site
from rindline_server.http.readings_body import decode_readings
from tests.contract.record import Record
from tests.service.dairy import Dairy

_PATH = "/v1/readings"
_JSON = {"content-type": "application/json"}
_AT = datetime(2026, 3, 10, tzinfo=UTC)


@pytest.fixture
def record(database_url: str) -> Iterator[Record]:
    """A site with a room and a sensor in it, and another site with another."""
    dairy = Dairy()
    entries = [
        Site(code="QM", name="Quillmere"),
        Site(code="QR", name="Quillmere Ripening"),
        Room(code="CAVE", name="Cave", site="QM"),
        Room(code="STORE", name="Store", site="QR"),
        Sensor(code="T-1", name="Air", room="CAVE"),
        Sensor(code="T-2", name="Air", room="STORE"),
    ]
    with Record(database_url) as record:
        reply = record.tell([dairy.event(Declare, entry=entry) for entry in entries])
        assert reply.json()["recorded"] == len(entries)
        yield record


def _one(minute: int = 0, **fields: Any) -> dict[str, Any]:
    at = (_AT + timedelta(minutes=minute)).isoformat()
    return {"sensor": "T-1", "at": at, "temperature_c": 11.25, "humidity_pct": 93.0} | fields


def _post(record: Record, body: Any, key: str | None = None) -> httpx.Response:
    content = body if isinstance(body, bytes) else json.dumps({"readings": body}).encode()
    with record.client(key or record.key("station", "QM")) as client:
        return client.post(_PATH, content=content, headers=_JSON)


def test_readings_are_answered_once_they_are_recorded(record: Record) -> None:
    """How many are new, how many were there; sent again, none is new."""
    batch = [_one(minute) for minute in range(30)]
    for recorded in (30, 0):
        reply = _post(record, batch)
        assert reply.status_code == 200
        assert reply.json() == {"recorded": recorded, "repeated": 30 - recorded}


def test_a_bad_reading_loses_nothing_but_itself(record: Record) -> None:
    """Whatever is wrong with some, malformed or not: each is refused at its place, what is wrong
    with it named by pointers into it, and the others are on disk."""
    batch = [
        _one(0),
        _one(1, temperature_c="warm", humidity_pct=101),
        _one(2),
        {"sensor": "T-1"},
        7,
        _one(3, sensor="T-2"),
        _one(4, unit="F"),
        _one(5, temperature_c=86),
        _one(6, at="2026-03-10T00:06:00"),
        _one(7),
    ]
    answer = _post(record, batch).json()
    assert (answer["recorded"], answer["repeated"]) == (3, 0)
    refused = {one["index"]: one["problem"] for one in answer["refused"]}
    assert {index: problem["code"] for index, problem in refused.items()} == {
        **dict.fromkeys((1, 3, 4, 6, 7, 8), "malformed"),
        5: "not_your_site",
    }
    pointers = {i: [f["pointer"] for f in p.get("faults", [])] for i, p in refused.items()}
    assert pointers == {
        1: ["/temperature_c", "/humidity_pct"],
        3: ["/at"],
        4: [""],
        5: [],
        6: ["/unit"],
        7: ["/temperature_c"],
        8: ["/at"],
    }
    assert _post(record, [_one(0), _one(2), _one(7)]).json()["repeated"] == 3


def test_a_name_given_twice_is_that_readings_fault(record: Record) -> None:
    """Readers differ in which of the two they believe (RFC 8259, section 4)."""
    twice = json.dumps(_one(0))[:-1] + ', "temperature_c": 3}'
    body = f'{{"readings": [{twice}, {json.dumps(_one(1))}]}}'.encode()
    answer = _post(record, body).json()
    assert answer["recorded"] == 1
    (refused,) = answer["refused"]
    assert refused["index"] == 0
    assert [fault["pointer"] for fault in refused["problem"]["faults"]] == ["/temperature_c"]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        (b"", ""),
        (b"{", ""),
        (b"\xff", ""),
        (b"[]", ""),
        (b"{}", "/readings"),
        (b'{"readings": 5}', "/readings"),
        (b'{"readings": []}', "/readings"),
        (b'{"readings": [{}], "unit": "F"}', "/unit"),
        (b'{"readings": [{}], "readings": [{}]}', "/readings"),
        (b'{"readings": [NaN]}', ""),
        (b'{"readings": ' + b"[" * 50_000, ""),
    ],
)
def test_a_body_without_a_list_of_readings_is_refused_whole(
    record: Record, body: bytes, pointer: str
) -> None:
    """There is nothing to refuse at a place: the answer is a problem, which says where."""
    reply = _post(record, body)
    assert (reply.status_code, reply.json()["code"]) == (400, "malformed")
    assert pointer in [fault["pointer"] for fault in reply.json()["faults"]]


def test_a_batch_has_its_limits(record: Record) -> None:
    """As many readings as a batch may hold are recorded; one more, or too many bytes, and none is.
    Also where one of them is malformed."""
    full = [_one(minute) for minute in range(MAX_READINGS)]
    for extra in (_one(-1), {}):
        reply = _post(record, [*full, extra])
        assert (reply.status_code, reply.json()["code"]) == (413, "too_large")
    huge = b'{"readings": [' + b" " * MAX_BODY_BYTES + b"]}"
    assert _post(record, huge).status_code == 413
    answer = _post(record, [*full[1:], {}]).json()
    assert (answer["recorded"], len(answer["refused"])) == (MAX_READINGS - 1, 1)
    assert _post(record, full).json()["recorded"] == 1


@pytest.mark.parametrize("kind", ["text/csv", "application/json; charset=latin-1"])
def test_readings_must_be_json(record: Record, kind: str) -> None:
    """A logger's file is another matter: this takes JSON only."""
    with record.client(record.key("station", "QM")) as client:
        reply = client.post(_PATH, content=b"{}", headers={"content-type": kind})
    assert (reply.status_code, reply.json()["code"]) == (415, "wrong_content_type")


def test_who_may_tell_readings(record: Record) -> None:
    """Stations, of their site's sensors, and managers, of all; nobody else, and the body of
    somebody unknown is not even read."""
    both = [_one(0), _one(0, sensor="T-2")]
    answer = _post(record, both, record.key("station", "QR")).json()
    assert [one["index"] for one in answer["refused"]] == [0]
    assert _post(record, both, record.key("manager")).json()["recorded"] == 1
    assert _post(record, both, record.key("auditor")).status_code == 403
    assert _post(record, b"{", record.key("customer", partner="SHOP")).status_code == 403
    assert _post(record, b"{", "rindline_nobody").status_code == 401


def test_readings_are_counted(record: Record) -> None:
    """By what became of them, beside the events."""
    _post(record, [_one(0), _one(0), _one(1), {}, {}, {}])
    with record.manager() as client:
        lines = client.get("/metrics").text.splitlines()
    pairs = [line.rpartition(" ") for line in lines if not line.startswith("#")]
    counts = {name: float(count) for name, _, count in pairs}
    for outcome, count in (("recorded", 2), ("repeated", 1), ("refused", 3)):
        assert counts[f'rindline_readings_total{{outcome="{outcome}"}}'] == count


def test_a_question_is_never_answered_from_before_a_reading(record: Record) -> None:
    """What is told changes the very next answer, though the ledger's head stands still."""
    head = record.service.head()
    path = "/v1/rooms/CAVE/climate?from_at=2026-03-10T00:00:00Z&until_at=2026-03-10T02:00:00Z"
    observed, tags = [], set()
    for minute in (0, 30, 60, 90):
        _post(record, [_one(minute)])
        with record.manager() as client:
            reply = client.get(path)
        observed.append(reply.json()["figures"]["observed_hours"])
        tags.add(reply.headers.get("etag"))
    assert observed == [0.0, 0.5, 1.0, 1.5]
    assert record.service.head() == head
    assert len(tags) == 4


def test_settings_say_how_readings_become_figures(database_url: str) -> None:
    """How far apart two readings may be, and the base of the degree-hours, from the settings."""
    dairy = Dairy()
    entries = [
        Site(code="QM", name="Quillmere"),
        Room(code="CAVE", name="Cave", site="QM"),
        Sensor(code="T-1", name="Air", room="CAVE"),
    ]
    path = "/v1/rooms/CAVE/climate?from_at=2026-03-10T00:00:00Z&until_at=2026-03-10T02:00:00Z"
    found = {}
    for gap in (29, 30):
        with Record(database_url, longest_gap_minutes=gap, degree_hours_base_c=10.25) as record:
            record.tell([dairy.event(Declare, entry=entry) for entry in entries])
            _post(record, [_one(0), _one(30)])
            record.service.rebuild(lambda _done, _total: None, check=False)
            with record.manager() as client:
                figures = client.get(path).json()["figures"]
            found[gap] = figures["observed_hours"], figures["degree_hours_c_h"]
    assert found == {29: (0.0, 0.0), 30: (0.5, 0.5)}


_VALUE = st.one_of(
    st.none(), st.booleans(), st.integers(-100, 200), st.floats(-100, 200), st.text(max_size=3)
)
_MEMBER = st.sampled_from(["sensor", "at", "temperature_c", "humidity_pct", "unit"])
_BAD = st.one_of(_VALUE, st.dictionaries(_MEMBER, _VALUE, max_size=4))


@given(good=st.lists(st.booleans(), min_size=1, max_size=20), data=st.data())
def test_good_readings_are_read_whatever_stands_beside_them(
    good: list[bool], data: st.DataObject
) -> None:
    """Each item is what it is by itself: a reading, or a malformed one."""
    items = [_one(place) if fine else data.draw(_BAD) for place, fine in enumerate(good)]
    told = decode_readings(json.dumps({"readings": items}).encode())
    assert len(told) == len(items)
    for place, fine in enumerate(good):
        alone = _alone(items[place])
        assert told[place] == alone
        assert isinstance(alone, Reading) or not fine


def _alone(item: Any) -> Reading | Problem:
    (told,) = decode_readings(json.dumps({"readings": [item]}).encode())
    return told
