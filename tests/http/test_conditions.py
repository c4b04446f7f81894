"""The conditions of a lot over HTTP, on the documentation's own story."""

from collections.abc import Iterator

import httpx
import pytest

from rindline_schema import SAFETY_NOTE
from rindline_server.http.openapi.event_examples import BLEND, MILK, PORTION, TRIM, WHEEL
from tests.contract.record import Record
from tests.databases import migrated_sqlite, session_folder


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    """The documentation's story."""
    file = tmp_path_factory.mktemp("conditions") / "record.db"
    with Record(str(migrated_sqlite(session_folder(), file))) as record:
        record.tell_story()
        yield record


@pytest.fixture
def client(record: Record) -> Iterator[httpx.Client]:
    with record.client(record.key("auditor")) as client:
        yield client


def test_a_blend_goes_back_to_its_wheel(client: httpx.Client) -> None:
    """The crumble's path: the wheel, the trim, the crumble; what nobody measured is unobserved."""
    answer = client.get(f"/v1/lots/{BLEND}/conditions").json()
    (path,) = answer["paths"]
    assert path["lots"] == [WHEEL, TRIM, BLEND]
    assert path["figures"]["unobserved_hours"] == path["figures"]["hours"] > 0
    assert "temperature" not in path["figures"]
    assert path["sixty_days"]["regulation"].startswith("21 CFR 133")
    assert {handling["kind"] for handling in path["handlings"]} >= {"pierce", "iron", "cut"}
    assert answer["safety_note"] == SAFETY_NOTE
    assert answer["rule"] == "trapezoid"


def test_a_customer_is_shown_no_judging(record: Record) -> None:
    """The customer the portion was sent to sees its path, without weighings and judgings; of the
    wheel it came from, it sees nothing."""
    with record.client(record.key("customer", partner="SHOP-7")) as client:
        (path,) = client.get(f"/v1/lots/{PORTION}/conditions").json()["paths"]
        assert not {"weigh", "iron"} & {handling["kind"] for handling in path["handlings"]}
        assert client.get(f"/v1/lots/{WHEEL}/conditions").status_code == 404


def test_milk_has_no_path(client: httpx.Client) -> None:
    """An answer without paths, and the reason."""
    answer = client.get(f"/v1/lots/{MILK}/conditions").json()
    assert answer["paths"] == []
    assert answer["notes"]


@pytest.mark.parametrize("query", ["series=weeks", "base_c=hot", "as_of=1"])
def test_what_can_not_be_asked(client: httpx.Client, query: str) -> None:
    """Parameters that mean nothing here are refused by name."""
    reply = client.get(f"/v1/lots/{WHEEL}/conditions?{query}")
    assert reply.status_code == 400
    assert reply.json()["code"] == "unknown_parameter"


def test_a_lot_that_is_none(client: httpx.Client) -> None:
    """What can be the code of no lot is not found."""
    assert client.get("/v1/lots/NOLOT/conditions").status_code == 404
