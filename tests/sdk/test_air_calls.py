"""Readings and questions about air: what is sent where, in batches, and what comes back."""

import asyncio
import json
from collections.abc import Callable
from datetime import timedelta

import httpx
import pytest
import respx

from rindline import (
    AsyncClient,
    Client,
    InvalidInputError,
    RetryPolicy,
    TransportError,
    UnexpectedAnswerError,
)
from rindline import _air_operations as operations
from rindline.testing import FakeClock, FakeServer
from rindline_schema.answers import Reading, ReadingsAnswer, SensorState
from rindline_schema.problems import make_problem
from tests.sdk.air_samples import CLIMATE, CONDITIONS, SENSORS
from tests.sdk.http_answers import SERVER, answered, both, refused
from tests.sdk.samples import AT, MISTYPED, WHEEL


def _readings(count: int, sensor: str = "S-1") -> list[Reading]:
    """Some readings, a minute apart; each shows its own number."""
    return [
        Reading(sensor=sensor, at=AT + timedelta(minutes=number), temperature_c=number % 40)
        for number in range(count)
    ]


_FEW = RetryPolicy(max_attempts=2)


def _tell(
    sort: str,
    server: FakeServer,
    readings: list[Reading],
    progress: Callable[[int], object] | None = None,
) -> ReadingsAnswer:
    if sort == "sync":
        with Client(transport=server, clock=FakeClock(), retries=_FEW) as client:
            return client.tell_readings(iter(readings), progress=progress)

    async def tell() -> ReadingsAnswer:
        async with AsyncClient(transport=server, clock=FakeClock(), retries=_FEW) as client:
            return await client.tell_readings(iter(readings), progress=progress)

    return asyncio.run(tell())


@both
def test_any_number_goes_in_batches_and_has_one_answer(sort: str) -> None:
    """25,001 readings go in three requests; a refused one's index counts through all of them."""
    server = FakeServer()
    readings = _readings(25_001)
    wrong = Reading(sensor="S-1", at=AT + timedelta(minutes=3), temperature_c=39.5)
    _tell(sort, server, [wrong])
    steps: list[int] = []
    readings[20_007] = Reading(sensor="S-1", at=AT + timedelta(minutes=20_007))
    answer = _tell(sort, server, readings, steps.append)
    assert [(one.index, one.problem.code) for one in answer.refused] == [
        (3, "reading_differs"),
        (20_007, "not_valid"),
    ]
    assert (answer.recorded, answer.repeated) == (24_999, 0)
    assert steps == [10_000, 20_000, 25_001]
    sizes = [len(json.loads(one.body or b"")["readings"]) for one in server.requests[1:]]
    assert sizes == [10_000, 10_000, 5_001]


def test_a_batch_is_no_larger_than_a_body_may_be(monkeypatch: pytest.MonkeyPatch) -> None:
    """Readings that would pass the limit in bytes go with the next request."""
    monkeypatch.setattr(operations, "_MOST_BYTES", 1_000)
    server = FakeServer()
    answer = _tell("sync", server, _readings(50))
    assert answer.recorded == 50
    assert len(server.requests) > 3
    whole = len(operations.reading_body([]))
    assert all(len(one.body or b"") <= 1_000 + whole for one in server.requests)


@both
def test_a_lost_answer_is_made_good_by_asking_again(sort: str) -> None:
    """Readings whose answer was lost are repeated, not doubled; none at all asks nothing."""
    server = FakeServer()
    server.lose_next_answer()
    answer = _tell(sort, server, _readings(7))
    assert (answer.recorded, answer.repeated, answer.refused) == (0, 7, [])
    assert len(server.readings) == 7
    assert _tell(sort, server, []) == ReadingsAnswer(recorded=0, repeated=0)
    assert len(server.requests) == 2


@both
def test_an_error_in_the_middle_says_how_far_it_came(sort: str) -> None:
    """What was told before stays told, and the error says that all may be told again."""
    server = FakeServer()
    seen: list[int] = []

    def lose(told: int) -> None:
        seen.append(told)
        server.lose_next_request(100)

    with pytest.raises(TransportError) as caught:
        _tell(sort, server, _readings(10_001), lose)
    assert seen == [10_000]
    assert "10000 readings before this batch" in " ".join(caught.value.__notes__)


@respx.mock
def test_every_question_about_air_goes_to_its_address() -> None:
    """Path and query of each are those of the catalogue; what is not said is not sent."""
    router = respx.route(host="dairy.invalid").mock(return_value=httpx.Response(200, json={}))
    lot, room = f"/v1/lots/{WHEEL}", "/v1/rooms/CAVE-1/climate"
    from_at = "from_at=2026-02-03T06%3A30%3A00%2B01%3A00"
    with Client(SERVER, clock=FakeClock()) as client:
        asked: list[tuple[Callable[[], object], str]] = [
            (lambda: client.climate("CAVE-1"), room),
            (
                lambda: client.climate("CAVE-1", from_at=AT, base_c=10, series="days"),
                f"{room}?{from_at}&base_c=10.0&series=days",
            ),
            (lambda: client.climate_picture("CAVE-1", "svg"), f"{room}?format=svg"),
            (
                lambda: client.climate_picture("CAVE-1", "png", from_at=AT),
                f"{room}?{from_at}&format=png",
            ),
            (lambda: client.conditions(WHEEL), f"{lot}/conditions"),
            (
                lambda: client.conditions(WHEEL, series="hours", base_c=4.5),
                f"{lot}/conditions?base_c=4.5&series=hours",
            ),
            (
                lambda: client.conditions_picture(WHEEL, "pdf", base_c=4.5),
                f"{lot}/conditions?base_c=4.5&format=pdf",
            ),
            (lambda: client.weight_loss(WHEEL), f"{lot}/weight-loss"),
            (client.comparison, "/v1/comparison"),
            (
                lambda: client.comparison(
                    by="shelf", product="QB-WHEEL", made_from=AT.date(), well=["A", "B"], badly="C"
                ),
                "/v1/comparison?by=shelf&product=QB-WHEEL&made_from=2026-02-03&well=A%2CB&badly=C",
            ),
            (lambda: client.sensors_page(limit=7), "/v1/sensors?limit=7"),
        ]
        for ask, target in asked:
            with pytest.raises(UnexpectedAnswerError):
                ask()
            sent = router.calls.last.request
            assert (sent.method, str(sent.url)) == ("GET", SERVER + target)


@pytest.mark.parametrize(
    "ask",
    [
        lambda client: client.climate("the cave"),
        lambda client: client.climate("CAVE-1", series="weeks"),
        lambda client: client.climate("CAVE-1", from_at=AT.replace(tzinfo=None)),
        lambda client: client.climate_picture("CAVE-1", "gif"),
        lambda client: client.conditions(MISTYPED),
        lambda client: client.conditions_picture(WHEEL, "json"),
        lambda client: client.weight_loss(MISTYPED),
        lambda client: client.comparison(by="herd"),
        lambda client: client.comparison(well=[]),
    ],
)
@respx.mock
def test_what_cannot_be_right_about_air_is_not_sent(ask: Callable[[Client], object]) -> None:
    """A time without an offset, an unknown format, a mistyped code: found before anything goes."""
    with Client(SERVER) as client, pytest.raises(InvalidInputError):
        ask(client)
    assert respx.calls.call_count == 0


@both
@respx.mock
def test_a_picture_is_the_bytes_of_its_file(sort: str) -> None:
    """The very bytes come back; the request says what it would take, problems included."""
    url = f"{SERVER}/v1/rooms/CAVE-1/climate"
    head = {"content-type": "image/png"}
    route = respx.get(url).mock(
        side_effect=[refused("busy"), httpx.Response(200, headers=head, content=b"\x89PNG\0")]
    )
    if sort == "sync":
        with Client(SERVER, clock=FakeClock()) as client:
            picture = client.climate_picture("CAVE-1", "png")
    else:

        async def ask() -> bytes:
            async with AsyncClient(SERVER, clock=FakeClock()) as client:
                return await client.climate_picture("CAVE-1", "png")

        picture = asyncio.run(ask())
    assert picture == b"\x89PNG\0"
    assert route.calls.last.request.headers["accept"] == "image/png, application/problem+json"


@pytest.mark.parametrize("media", ["application/json", "text/html; charset=utf-8", None])
@respx.mock
def test_what_is_no_picture_is_not_given_as_one(media: str | None) -> None:
    """A page of something in between is not written into a file that is called .svg."""
    head = {"content-type": media} if media else {}
    respx.get(f"{SERVER}/v1/lots/{WHEEL}/conditions").mock(
        return_value=httpx.Response(200, headers=head, content=b"<html>")
    )
    with Client(SERVER, clock=FakeClock()) as client, pytest.raises(UnexpectedAnswerError):
        client.conditions_picture(WHEEL, "svg")


@respx.mock
def test_sensors_are_followed_to_the_last_page() -> None:
    """Page by page, in both clients, and typed."""
    pages = [
        {"sensors": [_said("S-1")], "as_of": 4, "next_cursor": "more"},
        {"sensors": [_said("S-2")], "as_of": 4},
    ]
    route = respx.get(f"{SERVER}/v1/sensors").mock(
        side_effect=[httpx.Response(200, json=page) for page in [*pages, *pages]]
    )
    with Client(SERVER, clock=FakeClock()) as client:
        sensors = list(client.sensors())

    async def ask() -> list[SensorState]:
        async with AsyncClient(SERVER, clock=FakeClock()) as client:
            return [sensor async for sensor in client.sensors()]

    assert asyncio.run(ask()) == sensors
    assert [sensor.sensor for sensor in sensors] == ["S-1", "S-2"]
    assert [call.request.url.params.get("cursor") for call in route.calls] == [
        None,
        "more",
        None,
        "more",
    ]


def _said(sensor: str) -> dict[str, str]:
    since = AT.isoformat()
    return {"sensor": sensor, "name": sensor, "room": "CAVE-1", "since": since}


@respx.mock
def test_answers_about_air_are_typed() -> None:
    """Climate and conditions come back as the contract's structs, whole."""
    respx.get(f"{SERVER}/v1/rooms/CAVE-1/climate").mock(return_value=answered(CLIMATE))
    respx.get(f"{SERVER}/v1/lots/{WHEEL}/conditions").mock(return_value=answered(CONDITIONS))
    with Client(SERVER, clock=FakeClock()) as client:
        assert client.climate("CAVE-1") == CLIMATE
        assert client.conditions(WHEEL) == CONDITIONS


def test_a_picture_the_server_cannot_make_is_refused_with_what_to_do() -> None:
    """``no_picture`` comes as the refusal it is, with the advice."""
    server = FakeServer()
    server.refuse_next(make_problem("no_picture", "the extra labels is missing"))
    with (
        Client(transport=server, clock=FakeClock()) as client,
        pytest.raises(Exception, match=r"install rindline\[labels\]"),
    ):
        client.climate_picture("CAVE-1", "pdf")


def test_the_sample_of_sensors_has_one_in_doubt() -> None:
    """The fake answers as it is told to, in place of what it knows itself."""
    server = FakeServer()
    server.answer("sensors", SENSORS)
    with Client(transport=server, clock=FakeClock()) as client:
        assert [len(sensor.doubts) for sensor in client.sensors()] == [0, 1]
