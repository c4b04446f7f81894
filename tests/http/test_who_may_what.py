"""Every operation for every caller, as the committed table who_may_what.md has it."""

import itertools
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import httpx
import msgspec
import pytest

from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.events import Event, Weigh
from rindline_schema.operations import OPERATIONS, Operation
from rindline_schema.uuid7 import uuid7
from rindline_server.http.openapi.event_examples import (
    EVENT_EXAMPLES,
    MAKE,
    PORTION,
    WHEEL,
    example_time,
)
from rindline_server.http.side_pages import SIDE_PAGES
from tests.contract.record import Record
from tests.databases import migrated_sqlite, session_folder

_NUMBERS = itertools.count(1)
_BY_NAME: dict[str, Operation] = {one.name: one for one in (*OPERATIONS, *SIDE_PAGES)}


def _table() -> dict[str, dict[str, str]]:
    lines = Path(__file__).with_name("who_may_what.md").read_text("utf-8").splitlines()
    rows = [
        [cell.strip() for cell in one.strip("| ").split("|")] for one in lines if one[:1] == "|"
    ]
    names, _, *cells = rows
    return {row[0]: dict(zip(names[1:], row[1:], strict=True)) for row in cells}


_TABLE = _table()
_HIDDEN = [
    (name, who) for name, row in _TABLE.items() for who, gets in row.items() if gets == "404"
]
_CALLERS = list(_TABLE["tell"])


def _new_id() -> Any:
    return uuid7(1_700_000_000_000, next(_NUMBERS).to_bytes(10, "big"))


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    file = tmp_path_factory.mktemp("matrix") / "record.db"
    with Record(str(migrated_sqlite(session_folder(), file))) as record:
        record.tell_story()
        yield record


@pytest.fixture(scope="module")
def keys(record: Record) -> dict[str, str | None]:
    revoked = record.service.add_key("gone", "manager")
    assert record.service.revoke_key(revoked[: len("rindline_") + 8])
    return {
        "nobody": None,
        "revoked": revoked,
        "QM": record.key("station", site="QM"),
        "QN": record.key("station", site="QN"),
        "manager": record.key("manager"),
        "auditor": record.key("auditor"),
        "SHOP-7": record.key("customer", partner="SHOP-7"),
        "SHOP-8": record.key("customer", partner="SHOP-8"),
    }


@pytest.fixture(scope="module")
def drill_id(record: Record) -> str:
    """A drill that was run, to be read."""
    with record.manager() as client:
        reply = client.post("/v1/drills", json={"id": str(_new_id()), "lots": [MAKE]})
    assert reply.status_code == 201, reply.text
    identity: str = reply.json()["id"]
    return identity


def _never_made() -> str:
    """Give a well-formed code of a portion nobody made."""
    prefix = lot_code_prefix("QM", date(2025, 5, 1), "portion")
    return next(code for serial in range(1, 100) if (code := lot_code(prefix, serial)))


def _weigh() -> Event:
    return Weigh(id=_new_id(), at=example_time(80), site="QM", lot=WHEEL, mass_g=3_000)


def _outbox() -> dict[str, Any]:
    return {
        "outbox": _new_id(),
        "station_clock": example_time(80),
        "next_number": 2,
        "items": [{"number": 1, "age_ms": 0, "event": _weigh()}],
    }


def _ask(client: httpx.Client, operation: Operation, drill_id: str) -> httpx.Response:
    """Send a request of this operation that is right in all but who sends it."""
    path = operation.path.format(
        event_id=EVENT_EXAMPLES["cut"].id,
        drill_id=drill_id,
        lot=PORTION,
        direction="back",
        register="product",
        room="RIPE-1",
        code="busy" if operation.name == "problem" else "MILK",
    )
    if operation.method == "GET":
        return client.get(path)
    bodies: dict[str, Any] = {
        "tell": _weigh,
        "tell_many": lambda: [_weigh()],
        "try_events": lambda: [_weigh()],
        "start_drill": lambda: {"id": _new_id(), "lots": [MAKE]},
        "tell_from_outbox": _outbox,
        "reserve_codes": lambda: {
            "id": _new_id(),
            "site": "QM",
            "day": "2025-05-01",
            "kind": "wheel",
            "count": 10,
        },
        "tell_readings": lambda: {
            "readings": [
                {
                    "sensor": "S-RIPE",
                    "at": example_time(80) + timedelta(seconds=next(_NUMBERS)),
                    "temperature_c": 12.5,
                }
            ]
        },
    }
    return client.post(
        path,
        content=msgspec.json.encode(bodies[operation.name]()),
        headers={"content-type": "application/json"},
    )


def _outcome(reply: httpx.Response, name: str) -> str:
    """Give the status, and whether a batch that was taken was refused inside."""
    if reply.status_code == 200 and name in ("tell_many", "try_events", "tell_from_outbox"):
        (outcome,) = reply.json()["outcomes"]
        if outcome["outcome"] == "refused":
            assert outcome["problem"]["code"] == "not_your_site"
            return "200 refused"
    if reply.status_code == 200 and name == "tell_readings" and reply.json().get("refused"):
        (refused,) = reply.json()["refused"]
        assert refused["problem"]["code"] == "not_your_site"
        return "200 refused"
    return str(reply.status_code)


def test_every_operation_has_its_row() -> None:
    """A new operation without a row in the table fails here; so does a row of none."""
    assert set(_TABLE) == set(_BY_NAME)


def test_the_table_says_what_the_catalogue_says() -> None:
    """Whom the catalogue names gets something else than 401 and 403, and nobody else does."""
    roles = {"QM": "station", "manager": "manager", "auditor": "auditor", "SHOP-7": "customer"}
    for name, row in _TABLE.items():
        for caller, role in roles.items():
            admitted = role in _BY_NAME[name].roles
            assert (row[caller] not in ("401", "403")) is admitted, (name, caller)
        assert (row["nobody"] != "401") is ("nobody" in _BY_NAME[name].roles), name


@pytest.mark.parametrize("caller", _CALLERS)
@pytest.mark.parametrize("name", _BY_NAME)
def test_each_caller_gets_what_the_table_says(
    record: Record, keys: dict[str, str | None], drill_id: str, name: str, caller: str
) -> None:
    """One request of each operation by each caller."""
    with record.client(keys[caller]) as client:
        assert _outcome(_ask(client, _BY_NAME[name], drill_id), name) == _TABLE[name][caller]


@pytest.mark.parametrize(("name", "caller"), _HIDDEN)
def test_what_one_may_not_see_looks_like_what_is_not_there(
    record: Record, keys: dict[str, str | None], drill_id: str, name: str, caller: str
) -> None:
    """Both answers are the same to the letter, but for the name asked and the request's id."""
    missing = {PORTION: _never_made(), str(EVENT_EXAMPLES["cut"].id): str(_new_id())}
    operation = _BY_NAME[name]
    with record.client(keys[caller]) as client:
        hidden = _ask(client, operation, drill_id)
        path = hidden.request.url.path
        for there, not_there in missing.items():
            path = path.replace(there, not_there)
        absent = client.get(path)
    texts = []
    for reply in (hidden, absent):
        text = reply.text.replace(reply.headers["x-request-id"], "ID")
        for there, not_there in missing.items():
            text = text.replace(there, "NAME").replace(not_there, "NAME")
        headers = {k: v for k, v in reply.headers.items() if k != "x-request-id"}
        texts.append((reply.status_code, text, headers))
    assert texts[0] == texts[1]
