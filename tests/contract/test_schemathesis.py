"""Thousands of requests made up from the OpenAPI document, right and wrong, in this process."""

import itertools
from collections import Counter
from datetime import timedelta
from functools import cache
from typing import Any

import httpx
import hypothesis
import pytest
import schemathesis
from hypothesis import strategies as st
from schemathesis import GenerationMode, checks
from schemathesis.core.result import Ok

from rindline_schema.operations import OPERATIONS
from rindline_schema.params import NoParams
from rindline_schema.uuid7 import uuid7
from rindline_server.http.openapi.event_examples import (
    EVENT_EXAMPLES,
    MAKE,
    MILK,
    PORTION,
    TRIM,
    WHEEL,
    example_time,
)
from tests.contract.document import DOCUMENT
from tests.contract.record import Record

_CASES = 150  # of each operation
_LEAST_CASES = 140  # some that were drawn may turn out to be no request at all
_SEED = 20_260_202

# A batch answers 200 with a refusal inside for each event it can't take.
_REFUSES_INSIDE = {"tell_many", "tell_from_outbox", "tell_readings", "try_events"}

_JUDGES = [
    checks.not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_headers_conformance,
    checks.response_schema_conformance,
]

_TAKE_SOMETHING = {
    one.name for one in OPERATIONS if one.body or "{" in one.path or one.params is not NoParams
}

_NUMBERS = itertools.count(1)


def _known(drill_id: str) -> dict[str, list[str]]:
    """Names of things that are there, for the varying parts of paths."""
    return {
        "lot": [MILK, MAKE, WHEEL, PORTION, TRIM],
        "event_id": [str(EVENT_EXAMPLES["cut"].id), str(EVENT_EXAMPLES["move"].id)],
        "drill_id": [drill_id],
        "register": ["product", "site"],
        "code": ["MILK", "QM"],
        "room": ["HOOPING", "RIPE-1"],
    }


def _right_body(name: str) -> Any:
    """Give a body that will be taken, with an id of its own."""
    identity = str(uuid7(1_700_000_000_000, next(_NUMBERS).to_bytes(10, "big")))
    if name == "start_drill":
        return {"id": identity, "lots": [MAKE]}
    if name == "tell_readings":
        return {
            "readings": [
                {
                    "sensor": "S-RIPE",
                    "at": (example_time(70) + timedelta(seconds=next(_NUMBERS))).isoformat(),
                    "temperature_c": 12.5,
                    "humidity_pct": 91.0,
                }
            ]
        }
    event = {
        "type": "weigh",
        "id": identity,
        "at": example_time(90).isoformat(),
        "site": "QM",
        "lot": WHEEL,
        "mass_g": 3_000,
    }
    return event if name == "tell" else [event]


@st.composite
def _requests(draw: st.DrawFn, operation: Any, known: dict[str, list[str]]) -> Any:
    """Make up a request, sometimes about things that are there and with a body that is right."""
    wrong = draw(st.booleans()) and (operation.body or operation.query or operation.path_parameters)
    mode = GenerationMode.NEGATIVE if wrong else GenerationMode.POSITIVE
    case = draw(operation.as_strategy(generation_mode=mode))
    if not wrong and draw(st.booleans()):
        for name in case.path_parameters or {}:
            if name in known:
                case.path_parameters[name] = draw(st.sampled_from(known[name]))
        if operation.body:
            case.body = _right_body(operation.definition.raw["operationId"])
    return case


def _send(client: httpx.Client, case: Any, key: str) -> httpx.Response:
    sent = case.as_transport_kwargs(
        base_url="http://rindline.test", headers={"Authorization": f"Bearer {key}"}
    )
    request = _request(sent)
    return client.send(request)


def _request(sent: dict[str, Any]) -> httpx.Request:
    """Turn what the generator would hand to `requests` into the same request for our client."""
    import requests  # noqa: PLC0415

    allowed = {"method", "url", "headers", "params", "json", "data", "files", "cookies"}
    prepared = requests.Request(**{k: v for k, v in sent.items() if k in allowed}).prepare()
    assert prepared.method is not None
    assert prepared.url is not None
    headers = [(k.encode("latin-1"), _bytes(v)) for k, v in prepared.headers.items()]
    body: Any = prepared.body
    return httpx.Request(prepared.method, prepared.url, headers=headers, content=body)


def _bytes(value: Any) -> bytes:
    return value if isinstance(value, bytes) else str(value).encode("latin-1")


@pytest.fixture(scope="module")
def drill_id(told: Record) -> str:
    """A drill that was run, to be asked for."""
    with told.manager() as client:
        identity: str = client.post("/v1/drills", json=_right_body("start_drill")).json()["id"]
    return identity


@cache
def _operations() -> dict[str, Any]:
    schema = schemathesis.openapi.from_dict(DOCUMENT)
    found = [one.ok() for one in schema.get_all_operations() if isinstance(one, Ok)]
    return {one.definition.raw["operationId"]: one for one in found}


def test_there_are_at_least_two_thousand_requests() -> None:
    """As many as are asked for: so many operations take something, so many requests each."""
    assert set(_operations()) == {one.name for one in OPERATIONS}
    assert len(_TAKE_SOMETHING) * _LEAST_CASES >= 2_000


@pytest.mark.slow
@pytest.mark.timeout(900)
@pytest.mark.parametrize("name", [one.name for one in OPERATIONS])
def test_no_made_up_request_breaks_the_server(told: Record, drill_id: str, name: str) -> None:
    """Never 5xx, always as described; some succeed, and where there can be wrong ones some fail.

    Every reply passes two judges, schemathesis and our own. Wrong requests must be refused.
    """
    key, known = told.key("manager"), _known(drill_id)
    answered: Counter[int] = Counter()
    judges = [*_JUDGES, *([] if name in _REFUSES_INSIDE else [checks.negative_data_rejection])]

    @hypothesis.seed(_SEED)
    @hypothesis.settings(
        max_examples=_CASES,
        database=None,
        deadline=None,
        suppress_health_check=list(hypothesis.HealthCheck),
        phases=[hypothesis.Phase.generate],
    )
    @hypothesis.given(case=_requests(_operations()[name], known))
    def ask(case: Any) -> None:
        with told.client() as client:
            reply = _send(client, case, key)
        answered[reply.status_code] += 1
        assert reply.status_code < 500, reply.text
        case.validate_response(reply, checks=judges)

    ask()
    assert any(200 <= status < 300 for status in answered)
    if name in _TAKE_SOMETHING:
        assert answered.total() >= _LEAST_CASES
        assert any(400 <= status < 500 for status in answered)
