"""The replies of each operation: what is really sent, problems and headers included."""

from typing import Any

from rindline_schema.answers import TraceLine
from rindline_schema.operations import Operation
from rindline_schema.problems import PROBLEMS
from rindline_server.http.openapi.examples import answer_example
from rindline_server.http.openapi.schemas import schema_of

__all__ = ["HEADERS", "problem_codes", "responses"]

HEADERS: dict[str, Any] = {
    "RequestId": {
        "description": "The request's id, also in the server's log; the caller's own if it sent "
        "a sound one in `X-Request-Id`.",
        "schema": {"type": "string", "pattern": "^[A-Za-z0-9._-]{8,64}$"},
    },
    "ETag": {
        "description": "Strong entity tag (RFC 9110): send it back in `If-None-Match`.",
        "schema": {"type": "string", "pattern": '^"[0-9a-f]{32}(-gzip)?"$'},
    },
    "RetryAfter": {
        "description": "Seconds to wait before sending the same request again.",
        "schema": {"type": "string", "pattern": "^[0-9]+$"},
    },
    "WwwAuthenticate": {
        "description": "The scheme by which to authenticate (RFC 6750).",
        "schema": {"type": "string"},
    },
}

_REQUEST_ID = {"X-Request-Id": {"$ref": "#/components/headers/RequestId"}}
_ETAG = {"ETag": {"$ref": "#/components/headers/ETag"}}
_OF_STATUS = {
    401: {"WWW-Authenticate": {"$ref": "#/components/headers/WwwAuthenticate"}},
    503: {"Retry-After": {"$ref": "#/components/headers/RetryAfter"}},
}


def problem_codes(operation: Operation) -> tuple[str, ...]:
    """Give every code an operation can answer with, those of the outermost layer included."""
    return (*operation.all_problems, "headers_too_large")


def responses(operation: Operation) -> dict[str, Any]:
    """Describe all replies of one operation, by status."""
    kept = operation.method == "GET" and not operation.path.startswith("/health/")
    found: dict[int, dict[str, Any]] = {
        operation.status: {
            "description": "The answer.",
            "headers": {**_REQUEST_ID, **(_ETAG if kept else {})},
            "content": _content(operation),
        }
    }
    if kept:
        found[304] = {
            "description": "The answer the caller already has still holds.",
            "headers": {**_REQUEST_ID, **_ETAG},
        }
    for status, codes in _by_status(problem_codes(operation)).items():
        found[status] = {
            "description": "; ".join(PROBLEMS[code].title for code in codes) + ".",
            "headers": {**_REQUEST_ID, **_OF_STATUS.get(status, {})},
            "content": {"application/problem+json": _problem(codes, status)},
        }
    if operation.name == "ready":
        # What a load balancer reads; a problem only if even that can't be found out.
        found[503]["content"]["application/json"] = {"schema": schema_of(operation.answer)}
    return {str(status): found[status] for status in sorted(found)}


def _by_status(codes: tuple[str, ...]) -> dict[int, list[str]]:
    by_status: dict[int, list[str]] = {}
    for code in codes:
        by_status.setdefault(PROBLEMS[code].status, []).append(code)
    return by_status


def _problem(codes: list[str], status: int) -> dict[str, Any]:
    return {
        "schema": {
            "allOf": [
                {"$ref": "#/components/schemas/Problem"},
                {
                    "properties": {
                        "code": {"enum": sorted(codes)},
                        "status": {"const": status},
                    },
                    "required": ["request_id"],
                },
            ]
        },
        "examples": {code: {"$ref": f"#/components/examples/{code}"} for code in codes},
    }


def _content(operation: Operation) -> dict[str, Any]:
    content: dict[str, Any] = {
        "application/json": {
            "schema": schema_of(operation.answer),
            "example": answer_example(operation.name),
        }
    }
    if operation.streams:
        content["application/x-ndjson"] = {
            "schema": {
                **schema_of(TraceLine),
                "description": "Each line is one such object: the head first, the end last. "
                "An answer without the end line was cut short.",
            }
        }
        content["text/csv"] = {
            "schema": {
                "type": "string",
                "description": "RFC 4180, with a header row: a row for each lot and each edge.",
            }
        }
    for media in operation.files:
        text = {"type": "string"} if media.endswith("xml") else {}
        content[media] = {"schema": {**text, "description": "The file."}}
    return content
