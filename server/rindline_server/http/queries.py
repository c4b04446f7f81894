"""Query parameters: read into the operation's own struct, unknown and repeated ones refused."""

from functools import cache
from typing import TypeVar
from urllib.parse import parse_qsl

import msgspec
from msgspec import Struct

from rindline_schema.problems import Fault, make_problem
from rindline_server.service import ProblemError

__all__ = ["read_params"]

_P = TypeVar("_P", bound=Struct)

_MOST_PARAMETERS = 50


def read_params(kind: type[_P], query: bytes) -> _P:
    """Read a query string; raises the problem ``unknown_parameter`` with all faults."""
    if not query:
        return kind()
    try:
        pairs = parse_qsl(
            query.decode("ascii"),
            keep_blank_values=True,
            errors="strict",
            max_num_fields=_MOST_PARAMETERS,
        )
    except ValueError:
        raise _refused([Fault(pointer="", detail="The query can't be read")]) from None
    given = dict(pairs)
    faults = [
        Fault(pointer=name, detail="Given more than once")
        for name in given
        if sum(name == other for other, _ in pairs) > 1
    ]
    for name, text in given.items():
        if name not in _names(kind):
            faults.append(Fault(pointer=name, detail="Not a known parameter"))
            continue
        try:
            # Every parameter has a default, so each can be tried alone: all faults at once.
            alone = msgspec.convert({name: text}, kind, strict=False)
            if getattr(alone, name) is None:
                # Lax conversion takes the word for JSON's null; who means nothing says nothing.
                faults.append(Fault(pointer=name, detail=f"{text!r} is no value"))
        except msgspec.ValidationError as error:
            faults.append(Fault(pointer=name, detail=str(error).partition(" - at `")[0]))
    if faults:
        raise _refused(faults)
    return msgspec.convert(given, kind, strict=False)


@cache
def _names(kind: type[Struct]) -> frozenset[str]:
    return frozenset(kind.__struct_encode_fields__)


def _refused(faults: list[Fault]) -> ProblemError:
    named = "; ".join(f"{fault.pointer}: {fault.detail}" for fault in faults[:5])
    return ProblemError(make_problem("unknown_parameter", named, faults=faults))
