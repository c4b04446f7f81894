"""The yardstick itself: a reply that is not as described is noticed."""

import json

import pytest

from tests.contract.document import DOCUMENT, ContractError, check_reply

_PROBLEM = DOCUMENT["components"]["examples"]["not_found"]["value"]
_HEADERS = {
    "x-request-id": _PROBLEM["request_id"],
    "content-type": "application/problem+json",
}
_LOT = {
    **_HEADERS,
    "content-type": "application/json",
    "etag": '"0123456789abcdef0123456789abcdef"',
}
_WHEEL = DOCUMENT["paths"]["/v1/lots/{lot}"]["get"]["responses"]["200"]["content"][
    "application/json"
]["example"]
_ADDRESS = f"/v1/lots/{_WHEEL['lot']}"
_LINES = b'{"line":"head","lot":"a","direction":"back","as_of":1}\n'
_END = b'{"line":"end","lots":0,"edges":0,"counts":[]}\n'
_TRACE = f"{_ADDRESS}/trace/back"
_ND = {**_LOT, "content-type": "application/x-ndjson"}
_CSV = {**_LOT, "content-type": "text/csv; charset=utf-8"}


def _body(value: object) -> bytes:
    return json.dumps(value).encode()


def test_replies_as_described_pass() -> None:
    """A whole answer, a problem, lines, a table and a 304 are all what the document says."""
    check_reply("GET", _ADDRESS, 200, _LOT, _body(_WHEEL))
    check_reply("GET", _ADDRESS, 404, _HEADERS, _body(_PROBLEM))
    check_reply("GET", "/nowhere", 404, _HEADERS, _body(_PROBLEM))
    check_reply("GET", _ADDRESS, 304, _LOT, b"")
    check_reply("GET", _TRACE, 200, _ND, _LINES + _END)
    check_reply("GET", _TRACE, 200, _CSV, b"a,b\r\n1,2\r\n")


@pytest.mark.parametrize(
    ("address", "status", "headers", "body"),
    [
        (_ADDRESS, 200, _LOT, _body({**_WHEEL, "made_g": "heavy"})),
        (_ADDRESS, 200, _LOT, _body({"lot": "a"})),
        (_ADDRESS, 200, _LOT, _body({**_WHEEL, "made_at": "yesterday"})),
        (_ADDRESS, 200, {**_LOT, "etag": "weak"}, _body(_WHEEL)),
        (_ADDRESS, 200, {**_HEADERS, "content-type": "application/json"}, _body(_WHEEL)),
        (_ADDRESS, 200, {**_LOT, "content-type": "text/html"}, _body(_WHEEL)),
        (_ADDRESS, 200, {}, _body(_WHEEL)),
        (_ADDRESS, 202, _LOT, _body(_WHEEL)),
        (_ADDRESS, 304, _LOT, b"{}"),
        (_ADDRESS, 404, _HEADERS, _body({**_PROBLEM, "code": "busy"})),
        (_ADDRESS, 404, _HEADERS, _body({**_PROBLEM, "request_id": "another-one"})),
        (_ADDRESS, 404, {**_HEADERS, "content-type": "application/json"}, _body(_PROBLEM)),
        ("/nowhere", 404, {**_HEADERS, "content-type": "text/plain"}, b"no"),
        ("/nowhere", 404, _HEADERS, b"{}"),
        (_TRACE, 200, _ND, _LINES),
        (_TRACE, 200, _ND, _END),
        (_TRACE, 200, _ND, _LINES + b'{"line":"lot"}\n' + _END),
        (_TRACE, 200, _CSV, b"a,b\r\n1\r\n"),
        (_TRACE, 200, _CSV, b""),
    ],
)
def test_replies_not_as_described_are_noticed(
    address: str, status: int, headers: dict[str, str], body: bytes
) -> None:
    """Each of these differs from the document in one thing."""
    with pytest.raises(ContractError):
        check_reply("GET", address, status, headers, body)
