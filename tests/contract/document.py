"""The committed OpenAPI document, as the yardstick every reply in the tests is measured by."""

import csv
import io
import re
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

import jsonschema_rs
import msgspec

from tests.structure.source import ROOT

__all__ = ["DOCUMENT", "ContractError", "check_reply"]

DOCUMENT: dict[str, Any] = msgspec.json.decode((ROOT / "schema" / "openapi.json").read_bytes())

_FILES = ("image/svg+xml", "image/png", "application/pdf")
_ANYWHERE = "/{any}"
_PROBLEM = {"$ref": "#/components/schemas/Problem"}


class ContractError(AssertionError):
    """A reply is not what the document says."""


def check_reply(
    method: str, path: str, status: int, headers: Mapping[str, str], body: bytes
) -> None:
    """Raise ContractError unless the reply is one the document describes for this request."""
    where = f"{method} {path} answered {status}"
    template, operation = _operation(method, path)
    if "x-request-id" not in headers:
        raise ContractError(f"{where} without a request id")
    media = headers.get("content-type", "").partition(";")[0]
    if operation is None:
        # Not in the catalogue: pages for people, or a problem.
        if status >= 400:
            _check_problem(where, media, headers, body)
        return
    described = operation["responses"].get(str(status))
    if described is None:
        raise ContractError(f"{where}, which is not described for {template}")
    _check_headers(where, described.get("headers", {}), headers)
    content = described.get("content")
    if content is None:
        if body:
            raise ContractError(f"{where} with a body, which is not described")
        return
    if media not in content:
        raise ContractError(f"{where} as {media!r}, which is not described for {template}")
    _check_body(where, f"{template}|{method.lower()}|{status}|{media}", media, body)
    if media == "application/problem+json":
        _check_problem(where, media, headers, body)


def _check_body(where: str, pointer: str, media: str, body: bytes) -> None:
    if media in _FILES:
        if not body:
            raise ContractError(f"{where} with an empty file")
    elif media == "text/csv":
        _check_table(where, body)
    else:
        for line in _values(media, body):
            _check_value(where, _validator(pointer), line)


def _operation(method: str, path: str) -> tuple[str, dict[str, Any] | None]:
    # A reply to HEAD has the headers of one to GET and no body to look at.
    for template, pattern in _patterns().items():
        methods: dict[str, Any] = DOCUMENT["paths"][template]
        if pattern.fullmatch(path) and method.lower() in methods:
            return template, methods[method.lower()]
    return _ANYWHERE, None


@cache
def _patterns() -> dict[str, re.Pattern[str]]:
    # Templates without a varying part first: /v1/events/batch is no /v1/events/{event_id}.
    templates = sorted(DOCUMENT["paths"], key=lambda template: template.count("{"))
    return {t: re.compile(re.sub(r"\{\w+\}", "[^/]+", t) + "/?") for t in templates}


@cache
def _validator(pointer: str) -> Any:
    template, method, status, media = pointer.split("|")
    response = DOCUMENT["paths"][template][method]["responses"][status]
    return _compiled(response["content"][media]["schema"])


def _compiled(schema: dict[str, Any]) -> Any:
    return jsonschema_rs.Draft202012Validator(
        {**schema, "components": DOCUMENT["components"]}, validate_formats=True
    )


@cache
def _problem_validator() -> Any:
    return _compiled(_PROBLEM)


def _check_value(where: str, validator: Any, value: Any) -> None:
    faults = [f"{list(e.instance_path)}: {e.message[:300]}" for e in validator.iter_errors(value)]
    if faults:
        raise ContractError(f"{where}: {'; '.join(faults[:5])}")


def _values(media: str, body: bytes) -> Iterator[Any]:
    if media != "application/x-ndjson":
        yield msgspec.json.decode(body)
        return
    lines = body.splitlines()
    decoded = [msgspec.json.decode(line) for line in lines]
    kinds = [line["line"] for line in decoded]
    if kinds[:1] != ["head"] or kinds[-1:] != ["end"] or not body.endswith(b"\n"):
        raise ContractError(f"a trace of the lines {kinds[:3]} ... {kinds[-3:]}")
    yield from decoded


def _check_table(where: str, body: bytes) -> None:
    rows = list(csv.reader(io.StringIO(body.decode(), newline="")))
    if not rows or len({len(row) for row in rows}) != 1:
        raise ContractError(f"{where}: the rows of the table differ in length")


def _check_headers(where: str, described: dict[str, Any], headers: Mapping[str, str]) -> None:
    for name, described_header in described.items():
        header = DOCUMENT["components"]["headers"][described_header["$ref"].rpartition("/")[2]]
        given = headers.get(name.lower())
        if given is None:
            raise ContractError(f"{where} without {name}")
        pattern = header["schema"].get("pattern")
        if pattern is not None and not re.search(pattern, given):
            raise ContractError(f"{where}: {name} is {given!r}")


def _check_problem(where: str, media: str, headers: Mapping[str, str], body: bytes) -> None:
    if media != "application/problem+json":
        raise ContractError(f"{where} as {media!r}, not as a problem")
    if not body:  # to HEAD
        return
    problem = msgspec.json.decode(body)
    _check_value(where, _problem_validator(), problem)
    if problem.get("request_id") != headers["x-request-id"]:
        raise ContractError(f"{where}: the problem carries another request id than the header")
