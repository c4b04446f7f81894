"""Weight loss and comparison over HTTP, on the documentation's own story."""

from collections.abc import Iterator

import httpx
import pytest

from rindline_schema import SAFETY_NOTE
from rindline_server.http.openapi.event_examples import MAKE, PORTION, WHEEL
from tests.contract.record import Record
from tests.databases import migrated_sqlite, session_folder


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    """The documentation's story."""
    file = tmp_path_factory.mktemp("comparison") / "record.db"
    with Record(str(migrated_sqlite(session_folder(), file))) as record:
        record.tell_story()
        yield record


@pytest.fixture
def client(record: Record) -> Iterator[httpx.Client]:
    with record.client(record.key("auditor")) as client:
        yield client


def test_weight_loss_of_a_wheel_its_make_and_its_portion(client: httpx.Client) -> None:
    """The wheel by itself and among those of its make; the portion has none and says why."""
    of_wheel, of_make, of_portion = (
        client.get(f"/v1/lots/{lot}/weight-loss").json() for lot in (WHEEL, MAKE, PORTION)
    )
    (curve,) = of_wheel["wheels"]
    assert curve["lot"] == WHEEL
    assert curve in of_make["wheels"]
    assert of_make["kind"] == "make"
    assert of_portion["wheels"] == []
    assert of_portion["notes"]
    for answer in (of_wheel, of_make, of_portion):
        assert answer["safety_note"] == SAFETY_NOTE
    assert client.get("/v1/lots/NOLOT/weight-loss").status_code == 404


@pytest.mark.parametrize("by", ["make", "room", "shelf"])
def test_comparison(client: httpx.Client, by: str) -> None:
    """By make, room or shelf: the story's few wheels, and no verdict on them."""
    answer = client.get(f"/v1/comparison?by={by}").json()
    assert answer["by"] == by
    assert answer["wheels"] >= 1
    assert answer["safety_note"] == SAFETY_NOTE
    assert {one["verdict"] for one in answer.get("differences", [])} <= {"too_few"}
    if by == "make":
        assert MAKE in [group["group"] for group in answer["groups"]]


@pytest.mark.parametrize(
    "query", ["by=milk", "made_from=yesterday", "as_of=1", "well=A&badly=B,a", "well="]
)
def test_what_can_not_be_asked(client: httpx.Client, query: str) -> None:
    """Parameters that mean nothing here are refused by name, and so is a grade on both sides."""
    reply = client.get(f"/v1/comparison?{query}")
    assert reply.status_code == 400
    assert reply.json()["code"] == "unknown_parameter"
