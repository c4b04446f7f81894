"""The documentation's examples are true: told to a real server they are what happens."""

import msgspec
import pytest

from rindline_server.http.openapi.event_examples import (
    EVENT_EXAMPLES,
    MILK,
    PORTION,
    WHEEL,
)
from tests.contract.record import Record
from tests.contract.story import DECLARATIONS, STORY


def test_the_examples_in_their_order_are_all_recorded(record: Record) -> None:
    """Every example of an event is accepted, one by one, by itself; told again it is a replay."""
    record.tell(DECLARATIONS)
    with record.manager() as client:
        for event in STORY:
            body = msgspec.json.encode(event)
            headers = {"content-type": "application/json"}
            first = client.post("/v1/events", content=body, headers=headers)
            assert first.status_code == 201, first.text
            again = client.post("/v1/events", content=body, headers=headers)
            assert again.json() == {**first.json(), "replay": True}


def test_a_batch_of_them_can_be_tried_first(record: Record) -> None:
    """A dry run answers what telling would, and records nothing."""
    record.tell(DECLARATIONS)
    head = record.service.head()
    body = msgspec.json.encode(STORY)
    headers = {"content-type": "application/json"}
    with record.manager() as client:
        tried = client.post("/v1/events/dry-run", content=body, headers=headers).json()
        assert record.service.head() == head
        told = client.post("/v1/events/batch", content=body, headers=headers).json()
    assert [one["outcome"] for one in tried["outcomes"]] == ["recorded"] * len(STORY)
    assert [one["seq"] for one in tried["outcomes"]] == [one["seq"] for one in told["outcomes"]]


@pytest.mark.parametrize("form", ["json", "ndjson", "csv"])
def test_the_story_can_be_traced_in_every_form(told: Record, form: str) -> None:
    """From the milk forward to the half, from the half back to the milk."""
    with told.manager() as client:
        forward = client.get(f"/v1/lots/{MILK}/trace/forward", params={"format": form})
        back = client.get(f"/v1/lots/{PORTION}/trace/back", params={"format": form})
    assert forward.status_code == back.status_code == 200
    for lot in (MILK, WHEEL, PORTION):
        assert lot in forward.text
        assert lot in back.text


def test_the_origin_names_the_milk(told: Record) -> None:
    """All of the half's milk came from the one delivery."""
    with told.manager() as client:
        origin = client.get(f"/v1/lots/{PORTION}/origin").json()
    assert [(one["lot"], one["share_ppm"]) for one in origin["milk"]] == [(MILK, 1_000_000)]
    assert origin["wheels"][0]["lot"] == WHEEL


def test_reading_what_one_has_told_is_never_stale(record: Record) -> None:
    """Kept answers are dropped the moment the ledger moves on."""
    record.tell(DECLARATIONS)
    seen = []
    with record.manager() as client:
        for event in STORY:
            headers = {"content-type": "application/json"}
            client.post("/v1/events", content=msgspec.json.encode(event), headers=headers)
            page = client.get("/v1/lots").json()
            assert page["as_of"] == record.service.head()[0]
            seen.append(len(page["lots"]))
    assert seen == sorted(seen)
    assert seen[-1] == 6


def test_everything_wrong_with_an_event_is_told_at_once(told: Record) -> None:
    """What its shape can't say comes back as 422, also with every fault and its place."""
    event = msgspec.to_builtins(EVENT_EXAMPLES["move"])
    event["id"] = "0d3adb41-0000-4000-8000-000000000001"
    event["lots"] = [WHEEL[:-1] + ("0" if WHEEL[-1] != "0" else "1"), WHEEL, WHEEL]
    with told.manager() as client:
        reply = client.post("/v1/events", json=event)
    assert (reply.status_code, reply.json()["code"]) == (422, "not_valid")
    assert [one["pointer"] for one in reply.json()["faults"]] == ["/id", "/lots/0", "/lots/2"]
