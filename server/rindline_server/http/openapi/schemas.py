"""JSON Schemas of the contract's types: msgspec's, with what it leaves out put in."""

import inspect
import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any, get_args

import msgspec
from msgspec import Struct

from rindline_schema.answers import TraceLine
from rindline_schema.operations import OPERATIONS
from rindline_schema.problems import Problem

__all__ = ["component_schemas", "parameter_schemas", "plain_text", "schema_of"]

_REF = "#/components/schemas/{name}"


def _all_types() -> list[Any]:
    bodies = [operation.body for operation in OPERATIONS if operation.body is not None]
    return [*(operation.answer for operation in OPERATIONS), *bodies, Problem, TraceLine]


def component_schemas() -> dict[str, Any]:
    """Give the schema of every struct of the contract, by its name."""
    _, components = msgspec.json.schema_components(_all_types(), ref_template=_REF)
    structs = _structs(_all_types())
    for name, schema in components.items():
        # What is no struct (a pair written as an array) has no times.
        if name in structs:
            _state_times(schema, structs[name])
        schema.pop("title", None)
        _tidy(schema)
    return dict(sorted(components.items()))


def schema_of(kind: Any) -> dict[str, Any]:
    """Give the schema of a type, with references to the components."""
    schemas, _ = msgspec.json.schema_components([kind], ref_template=_REF)
    schema: dict[str, Any] = schemas[0]
    return schema


def parameter_schemas(kind: type[Struct]) -> dict[str, dict[str, Any]]:
    """Give the schema of each field of a struct of query parameters."""
    _, components = msgspec.json.schema_components([kind], ref_template=_REF)
    properties: dict[str, dict[str, Any]] = components[kind.__name__]["properties"]
    return {name: _without_null(schema) for name, schema in properties.items()}


def plain_text(docstring: str | None) -> str:
    """Give a docstring as Markdown: indents and the roles of reStructuredText taken out."""
    text = re.sub(r":\w+:`(\w+)`", r"`\1`", inspect.cleandoc(docstring or ""))
    return text.replace("``", "`")


def _structs(kinds: Sequence[Any]) -> dict[str, type[Struct]]:
    """Find every struct that the types are made of, by name."""
    found: dict[str, type[Struct]] = {}
    waiting = list(kinds)
    while waiting:
        kind = waiting.pop()
        waiting.extend(get_args(kind))
        if isinstance(kind, type) and issubclass(kind, Struct) and kind.__name__ not in found:
            found[kind.__name__] = kind
            waiting.extend(field.type for field in msgspec.structs.fields(kind))
    return found


def _state_times(schema: dict[str, Any], struct: type[Struct]) -> None:
    """Mark times as such: msgspec does so only where it checks for an offset."""
    for field in msgspec.structs.fields(struct):
        if datetime in (field.type, *get_args(field.type)):
            property_schema = schema["properties"][field.encode_name]
            for branch in property_schema.get("anyOf", [property_schema]):
                if branch.get("type") == "string":
                    branch["format"] = "date-time"


def _tidy(schema: Any) -> None:
    if isinstance(schema, dict):
        if isinstance(schema.get("description"), str):
            schema["description"] = plain_text(schema["description"])
        for part in schema.values():
            _tidy(part)
    elif isinstance(schema, list):
        for part in schema:
            _tidy(part)


def _without_null(schema: dict[str, Any]) -> dict[str, Any]:
    """A parameter is left out rather than null."""
    branches = [branch for branch in schema.get("anyOf", []) if branch != {"type": "null"}]
    only: dict[str, Any] = branches[0] if len(branches) == 1 else schema
    return only
