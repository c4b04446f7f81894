"""The OpenAPI document: sound, complete, and its examples fit it."""

from collections.abc import Iterator
from typing import Any

import jsonschema_rs
import pytest

from rindline_schema.operations import OPERATIONS, Operation
from rindline_schema.problems import PROBLEMS
from tests.contract.document import DOCUMENT

_METHODS = {"get", "post"}


def _operations() -> dict[str, dict[str, Any]]:
    return {
        operation["operationId"]: operation
        for methods in DOCUMENT["paths"].values()
        for operation in methods.values()
    }


def _all_parts(value: Any) -> Iterator[Any]:
    yield value
    for part in value.values() if isinstance(value, dict) else value:
        if isinstance(part, dict | list):
            yield from _all_parts(part)


def _validator(schema: dict[str, Any]) -> Any:
    whole = {**schema, "components": DOCUMENT["components"]}
    return jsonschema_rs.Draft202012Validator(whole, validate_formats=True)


def _example(example: dict[str, Any]) -> Any:
    if "$ref" in example:
        return DOCUMENT["components"]["examples"][example["$ref"].rpartition("/")[2]]["value"]
    return example["value"]


def test_every_operation_is_described_once() -> None:
    """The document has the operations of the catalogue under their paths, and no others."""
    assert DOCUMENT["openapi"] == "3.1.0"
    described = {
        (path, method, operation["operationId"])
        for path, methods in DOCUMENT["paths"].items()
        for method, operation in methods.items()
    }
    assert described == {(one.path, one.method.lower(), one.name) for one in OPERATIONS}


def test_every_reference_leads_somewhere() -> None:
    """No `$ref` and no discriminator points to what isn't there."""
    known = {
        f"#/components/{sort}/{name}"
        for sort, components in DOCUMENT["components"].items()
        for name in components
    }
    pointed = {
        part["$ref"] for part in _all_parts(DOCUMENT) if isinstance(part, dict) and "$ref" in part
    }
    for part in _all_parts(DOCUMENT):
        if isinstance(part, dict) and "propertyName" in part and "mapping" in part:
            pointed |= set(part["mapping"].values())
    assert len(pointed) > 80
    assert pointed <= known


def test_every_component_is_used() -> None:
    """Nothing is described that no operation speaks of."""
    used: set[str] = set()
    waiting: list[Any] = [DOCUMENT["paths"]]
    while waiting:
        for part in _all_parts(waiting.pop()):
            if isinstance(part, dict) and "$ref" in part and part["$ref"] not in used:
                used.add(part["$ref"])
                _, _, sort, name = part["$ref"].split("/")
                waiting.append(DOCUMENT["components"][sort][name])
    schemas = {f"#/components/schemas/{name}" for name in DOCUMENT["components"]["schemas"]}
    assert schemas - used == set()


@pytest.mark.parametrize("name", DOCUMENT["components"]["schemas"])
def test_every_schema_is_one(name: str) -> None:
    """Each is valid JSON Schema 2020-12 and says what it describes."""
    schema = DOCUMENT["components"]["schemas"][name]
    assert jsonschema_rs.meta.is_valid(
        {**schema, "$schema": "https://json-schema.org/draft/2020-12/schema"}
    )
    assert schema["description"].strip()


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_the_examples_fit_their_schemas(operation: Operation) -> None:
    """Every example of a body, an answer or a problem is valid by the schema beside it."""
    described = _operations()[operation.name]
    contents = [
        content
        for one in described["responses"].values()
        for content in one.get("content", {}).values()
    ]
    if operation.body is not None:
        contents += described["requestBody"]["content"].values()
    checked = 0
    for content in contents:
        examples = [_example(one) for one in content.get("examples", {}).values()]
        examples += [content["example"]] if "example" in content else []
        validator = _validator(content["schema"])
        for example in examples:
            assert [str(error) for error in validator.iter_errors(example)] == []
            checked += 1
    assert checked >= 3


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_every_problem_of_an_operation_is_described(operation: Operation) -> None:
    """Each code stands under its status with the real body, and with the headers it comes with."""
    responses = _operations()[operation.name]["responses"]
    assert str(operation.status) in responses
    for code in operation.all_problems:
        response = responses[str(PROBLEMS[code].status)]
        schema = response["content"]["application/problem+json"]["schema"]
        assert code in schema["allOf"][1]["properties"]["code"]["enum"]
        assert "X-Request-Id" in response["headers"]
        if PROBLEMS[code].status == 503:
            assert "Retry-After" in response["headers"]


def test_who_needs_no_key_is_said() -> None:
    """Operations for anybody demand no security, all others the key."""
    for one in OPERATIONS:
        wanted: list[Any] = [] if "nobody" in one.roles else [{"key": []}]
        assert _operations()[one.name]["security"] == wanted


def test_events_are_told_apart_by_their_type() -> None:
    """The body of `tell` names the field that decides and the schema for each of its values."""
    body = _operations()["tell"]["requestBody"]["content"]["application/json"]["schema"]
    assert body["discriminator"]["propertyName"] == "type"
    assert len(body["discriminator"]["mapping"]) == len(body["anyOf"]) == 23


def test_requests_may_have_no_unknown_fields() -> None:
    """Each struct of an event is closed; answers are open, as they may gain members."""
    schemas = DOCUMENT["components"]["schemas"]
    closed = {name for name, one in schemas.items() if one.get("additionalProperties") is False}
    assert {"Receive", "Cut", "Piece", "Place", "Correct", "Declare", "DrillRequest"} <= closed
    assert not closed & {"Told", "LotAnswer", "OriginAnswer", "TraceAnswer", "Problem", "Whoami"}


def test_times_are_marked_as_such() -> None:
    """Times in answers carry the format, though nothing checks what we send ourselves."""
    told = DOCUMENT["components"]["schemas"]["Told"]["properties"]["recorded_at"]
    assert told == {"type": "string", "format": "date-time"}
