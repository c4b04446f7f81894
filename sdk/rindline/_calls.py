"""How a call is put together: an operation's name and arguments into a request. No I/O."""

from typing import Any, TypeVar
from urllib.parse import quote

import msgspec

from rindline._answers import parse_answer
from rindline._wire import Call, Request, Response
from rindline.errors import InvalidInputError
from rindline_schema.codes import lot_code_fault
from rindline_schema.operations import OPERATIONS

__all__ = ["build_call", "build_params", "build_request", "checked", "checked_lot"]

T = TypeVar("T")

_OPERATIONS = {operation.name: operation for operation in OPERATIONS}


def build_call(
    name: str,
    answer: type[T],
    path: dict[str, str] | None = None,
    *,
    query: msgspec.Struct | None = None,
    body: bytes | None = None,
) -> Call[T]:
    """Give the call of an operation that answers JSON."""

    def parse(response: Response) -> T:
        return parse_answer(response, answer)

    return Call(build_request(name, path or {}, query, body), parse)


def build_request(
    name: str, path: dict[str, str], query: msgspec.Struct | None, body: bytes | None
) -> Request:
    """Give the request of an operation; ``path`` fills the gaps of its address."""
    operation = _OPERATIONS[name]
    headers = {"accept": "application/json"}
    if body is not None:
        headers["content-type"] = "application/json"
    return Request(
        operation.method,
        operation.path.format(**{part: quote(text, safe="") for part, text in path.items()}),
        _query(query),
        body,
        headers,
    )


def build_params(shape: type[T], /, **values: Any) -> T:
    """Give checked query parameters, of those that are given at all."""
    given = {name: value for name, value in values.items() if value is not None}
    built: T = checked(given, shape, "parameters")
    return built


def checked(value: Any, shape: Any, what: str) -> Any:
    """Give a value as what it should be, or raise :class:`InvalidInputError`."""
    try:
        return msgspec.convert(value, shape)
    except msgspec.ValidationError as error:
        raise InvalidInputError(f"{what}: {error}.") from error


def checked_lot(code: str) -> str:
    """Give a lot code that is well formed, or raise :class:`InvalidInputError`."""
    # Proved here because the check character needs no server to find a mistyped code.
    fault = lot_code_fault(code)
    if fault is not None:
        raise InvalidInputError(f"{fault}.")
    return code


def _query(query: msgspec.Struct | None) -> tuple[tuple[str, str], ...]:
    """Write the parameters that differ from the server's defaults."""
    if query is None:
        return ()
    written = []
    for field in msgspec.structs.fields(type(query)):
        value = getattr(query, field.name)
        if value is None or value == field.default:
            continue
        text = msgspec.to_builtins(value, str_keys=True)
        written.append((field.name, str(text).lower() if isinstance(text, bool) else str(text)))
    return tuple(written)
