"""The document itself. Built once, sorted, so that the committed file shows every change."""

from functools import cache
from importlib.metadata import version
from typing import Any, get_args

import msgspec

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import TraceDirection
from rindline_schema.operations import MAX_BATCH_EVENTS, MAX_BODY_BYTES, OPERATIONS, Operation
from rindline_schema.problems import PROBLEMS
from rindline_schema.quantities import Code, LotCode
from rindline_schema.registers import RegisterName
from rindline_server.http.openapi.examples import body_examples, problem_example
from rindline_server.http.openapi.responses import HEADERS, responses
from rindline_server.http.openapi.schemas import component_schemas, parameter_schemas, schema_of

__all__ = ["build_document", "document_text"]

_DESCRIPTION = f"""\
A record of where every piece of a ripened cheese came from and where it went.

Everything that happens is told as an event, with an id its teller made (UUIDv7): sending it again
is always safe. Everything else is asked. Times carry their offset from UTC, mass is in whole
grams. Answers may gain members: ignore those you don't know. Requests may not have unknown ones.

A body has at most {MAX_BODY_BYTES} bytes, a batch at most {MAX_BATCH_EVENTS} events. What goes
wrong is told as a problem (RFC 9457); its `type` leads to a page that says what to do.

{SAFETY_NOTE}
"""

_TAGS = {
    "events": "Telling what happened, and reading what was told.",
    "lots": "Lots: one, many, where they came from and went.",
    "discrepancies": "What does not fit together.",
    "registers": "Sites, rooms, sensors, tools, partners, products.",
    "drills": "Recall drills.",
    "key": "The key in the request.",
    "health": "The server itself.",
}

_PATH_PARTS: dict[str, tuple[Any, str]] = {
    "event_id": ({"type": "string", "format": "uuid"}, "The event's id."),
    "drill_id": ({"type": "string", "format": "uuid"}, "The drill's id."),
    "lot": (schema_of(LotCode), "The lot's code."),
    "direction": (
        {"type": "string", "enum": list(get_args(TraceDirection))},
        "Back to where it came from, or forward to where it went.",
    ),
    "register": (
        {"type": "string", "enum": list(get_args(RegisterName))},
        "Which register.",
    ),
    "code": (schema_of(Code), "The entry's code."),
    "room": (schema_of(Code), "The room's code."),
}


@cache
def document_text() -> bytes:
    """Give the document as JSON, indented, with a final newline."""
    return msgspec.json.format(msgspec.json.encode(build_document(), order="sorted")) + b"\n"


def build_document() -> dict[str, Any]:
    """Build the OpenAPI 3.1 document."""
    paths: dict[str, Any] = {}
    for operation in OPERATIONS:
        paths.setdefault(operation.path, {})[operation.method.lower()] = _operation(operation)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Rindline",
            "version": version("rindline"),
            "description": _DESCRIPTION,
        },
        "tags": [{"name": name, "description": text} for name, text in _TAGS.items()],
        "paths": paths,
        "components": {
            "schemas": component_schemas(),
            "headers": HEADERS,
            "examples": {code: {"value": problem_example(code)} for code in PROBLEMS},
            "securitySchemes": {
                "key": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "A key, made by `rindline-server keys add` and shown once.",
                }
            },
        },
    }


def _operation(operation: Operation) -> dict[str, Any]:
    described: dict[str, Any] = {
        "operationId": operation.name,
        "summary": operation.summary.rstrip("."),
        "tags": [operation.path.removeprefix("/v1/").strip("/").partition("/")[0]],
        "parameters": [*_path_parameters(operation), *_query_parameters(operation)],
        "responses": responses(operation),
    }
    if "nobody" in operation.roles:
        described["security"] = []
    else:
        described["security"] = [{"key": []}]
        described["description"] = f"For keys of role {', '.join(sorted(operation.roles))}."
    if operation.method == "GET" and "304" in described["responses"]:
        described["parameters"].append(
            {
                "name": "If-None-Match",
                "in": "header",
                "schema": {"type": "string"},
                "description": "The `ETag` of the answer the caller has.",
            }
        )
    if operation.body is not None:
        described["requestBody"] = {
            "required": True,
            "content": {"application/json": _body(operation)},
        }
    return described


def _body(operation: Operation) -> dict[str, Any]:
    schema = schema_of(operation.body)
    if schema.get("type") == "array":
        schema["maxItems"] = MAX_BATCH_EVENTS
    return {
        "schema": schema,
        "examples": {
            name: {"value": value} for name, value in body_examples(operation.name).items()
        },
    }


def _path_parameters(operation: Operation) -> list[dict[str, Any]]:
    names = [part[1:-1] for part in operation.path.split("/") if part.startswith("{")]
    return [
        {
            "name": name,
            "in": "path",
            "required": True,
            "schema": _PATH_PARTS[name][0],
            "description": _PATH_PARTS[name][1],
        }
        for name in names
    ]


def _query_parameters(operation: Operation) -> list[dict[str, Any]]:
    parameters = []
    for name, schema in parameter_schemas(operation.params).items():
        parameter = {"name": name, "in": "query", "required": False, "schema": schema}
        if "description" in schema:
            parameter["description"] = schema.pop("description")
        parameters.append(parameter)
    return parameters
