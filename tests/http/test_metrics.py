"""Metrics: who may read them and what they count."""

import re

import msgspec
import pytest
from prometheus_client.parser import text_string_to_metric_families

from rindline_server.http.openapi.event_examples import EVENT_EXAMPLES
from tests.http.conftest import Told


def _samples(text: str) -> dict[str, float]:
    return {
        f"{sample.name}{sorted(sample.labels.items())}": sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


@pytest.mark.parametrize(
    ("key", "status"),
    [(None, 401), ("station", 403), ("customer", 403), ("auditor", 200), ("manager", 200)],
)
def test_metrics_are_for_those_who_may_read_all(app: Told, key: str | None, status: int) -> None:
    """They tell how much a business does: not for everybody."""
    with app.client(key) as client:
        assert client.get("/metrics").status_code == status


def test_requests_are_counted_by_template(app: Told) -> None:
    """Addresses that differ in a code are one series, unknown ones another, made-up methods one."""
    with app.client("manager") as client:
        for code in ("A", "B", "C"):
            client.get(f"/v1/registers/site/{code}")
        client.get("/nowhere/1")
        client.get("/nowhere/2")
        client.request("BREW", "/v1/lots")
        client.request("STIR", "/v1/lots")
        samples = _samples(client.get("/metrics").text)
    counted = {
        name: value for name, value in samples.items() if name.startswith("rindline_requests_total")
    }
    by_route = {tuple(re.findall(r"'([^']*)'\)", name)): value for name, value in counted.items()}
    assert by_route[("GET", "/v1/registers/{register}/{code}", "404")] == 3
    assert by_route[("GET", "(none)", "404")] == 2
    assert by_route[("other", "(none)", "405")] == 2
    assert samples["rindline_requests_in_flight[]"] == 1


def test_events_are_counted_by_what_became_of_them(app: Told) -> None:
    """Recorded and refused; beside them the ledger's seq and what waits for the writer."""
    app.service.waiting = 3
    event = msgspec.to_builtins(EVENT_EXAMPLES["move"])
    with app.client("manager") as client:
        client.post("/v1/events/batch", json=[event, 5, event])
        samples = _samples(client.get("/metrics").text)
    assert samples["rindline_events_total[('outcome', 'recorded')]"] == 2
    assert samples["rindline_events_total[('outcome', 'refused')]"] == 1
    assert samples["rindline_ledger_seq[]"] == app.service.seq
    assert samples["rindline_writer_waiting_requests[]"] == 3
