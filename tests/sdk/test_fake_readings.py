"""What the fake server makes of readings, and what it says it does not do."""

from collections.abc import Callable
from datetime import UTC, timedelta

import pytest

from rindline import Client, RefusedError
from rindline.testing import FakeClock, FakeServer
from rindline_schema.answers import Reading
from rindline_schema.problems import make_problem
from rindline_schema.registers import Room, Sensor
from tests.sdk.air_samples import CLIMATE
from tests.sdk.samples import AT, WHEEL


def _client(server: FakeServer) -> Client:
    return Client(transport=server, clock=FakeClock())


def _reading(minute: int, temperature_c: float | None = 11.0, **said: float) -> Reading:
    at = AT + timedelta(minutes=minute)
    return Reading(sensor="S-1", at=at, temperature_c=temperature_c, **said)


def test_a_reading_told_again_is_one_reading() -> None:
    """Sensor, moment and values: the same is repeated, whatever offset its time is written with."""
    server = FakeServer()
    with _client(server) as client:
        assert client.tell_readings([_reading(0), _reading(5)]).recorded == 2
        elsewhere = Reading(sensor="S-1", at=AT.astimezone(UTC), temperature_c=11.0004)
        answer = client.tell_readings([elsewhere, _reading(5), _reading(10)])
    assert (answer.recorded, answer.repeated, answer.refused) == (1, 2, [])
    assert len(server.readings) == 3


def test_other_values_for_the_same_moment_are_refused_and_the_rest_stands() -> None:
    """The first values stay; also within one batch."""
    server = FakeServer()
    with _client(server) as client:
        answer = client.tell_readings(
            [_reading(0), _reading(0, 12.0), _reading(1), _reading(0, humidity_pct=90.0)]
        )
    assert answer.recorded == 2
    assert [(one.index, one.problem.code) for one in answer.refused] == [
        (1, "reading_differs"),
        (3, "reading_differs"),
    ]
    assert [reading.temperature_c for reading in server.readings] == [11.0, 11.0]


def test_what_cannot_be_is_refused_by_itself() -> None:
    """No value, a temperature beyond any room's, a sensor that is no code: each harms no other."""
    server = FakeServer()
    wrong = [
        _reading(1, None),
        _reading(2, 85.1),
        _reading(3, humidity_pct=100.5),
        Reading(sensor="sensor one", at=AT, temperature_c=11.0),
        Reading(sensor="S-1", at=AT.replace(tzinfo=None), temperature_c=11.0),
    ]
    with _client(server) as client:
        answer = client.tell_readings([*wrong, _reading(9)])
    assert (answer.recorded, [one.index for one in answer.refused]) == (1, [0, 1, 2, 3, 4])
    codes = ["not_valid", "malformed", "malformed", "malformed", "malformed"]
    assert [one.problem.code for one in answer.refused] == codes


def test_a_body_that_is_no_batch_is_refused_as_a_whole() -> None:
    """Nothing of it is kept."""
    server = FakeServer()
    with _client(server) as client:
        client.tell_readings([_reading(0)])
        body = server.requests[-1].body or b""
        for other in (b"[]", b'{"readings":[]}', body.replace(b"readings", b"values")):
            answered = server.send(type(server.requests[-1])("POST", "/v1/readings", body=other), 1)
            assert answered.status == 400
    assert len(server.readings) == 1


def test_declared_sensors_are_listed_with_what_they_showed_last() -> None:
    """Room, site, offset, the newest reading, how long ago; page by page."""
    clock = FakeClock(AT + timedelta(hours=2))
    server = FakeServer(clock=clock)
    with Client(transport=server, clock=clock) as client:
        client.declare(Room(code="CAVE-1", name="The first cave", site="QM"), at=AT)
        for code in ("S-1", "S-2"):
            client.declare(Sensor(code=code, name=code, room="CAVE-1", offset_c=-0.3), at=AT)
        client.tell_readings([_reading(60, 12.5), _reading(0, 11.0)])
        first, second = client.sensors()
        assert client.sensors_page(limit=1).next_cursor is not None
    assert (first.sensor, first.room, first.site, first.offset_c) == ("S-1", "CAVE-1", "QM", -0.3)
    assert (first.last_temperature_c, first.silent_minutes) == (12.5, 60.0)
    assert (second.last_at, second.silent_minutes) == (None, None)


@pytest.mark.parametrize(
    "ask",
    [
        lambda client: client.climate("CAVE-1"),
        lambda client: client.conditions(WHEEL),
        lambda client: client.weight_loss(WHEEL),
        lambda client: client.comparison(),
    ],
)
def test_it_says_what_it_does_not_work_out(ask: Callable[[Client], object]) -> None:
    """Rather than to invent figures it says how it is told what to answer."""
    with (
        _client(FakeServer()) as client,
        pytest.raises(NotImplementedError, match=r"with answer\("),
    ):
        ask(client)


def test_it_draws_nothing_but_gives_the_picture_it_is_told() -> None:
    """A picture is answered with its media type, beside the figures."""
    server = FakeServer()
    with _client(server) as client:
        with pytest.raises(NotImplementedError, match=r"with answer_picture\('climate'"):
            client.climate_picture("CAVE-1", "svg")
        server.answer("climate", CLIMATE)
        server.answer_picture("climate", b"<svg/>")
        assert client.climate_picture("CAVE-1", "svg") == b"<svg/>"
        assert client.climate("CAVE-1") == CLIMATE
    with pytest.raises(ValueError, match="answers pictures"):
        server.answer_picture("lots", b"")


def test_a_refusal_by_script_reaches_readings_too() -> None:
    """Whoever tests a logger can let the server refuse a whole request."""
    server = FakeServer()
    server.refuse_next(make_problem("reading_differs", "as the test says"))
    with _client(server) as client, pytest.raises(RefusedError, match="reading_differs"):
        client.tell_readings([_reading(0)])
