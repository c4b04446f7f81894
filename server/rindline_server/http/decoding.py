"""From bytes to events: quick when all is well, thorough when something is wrong.

Beyond what msgspec refuses (unknown fields, NaN, numbers out of range, half surrogate pairs,
too deep nesting), a name that comes twice in an object is refused: readers differ in which of
the two they believe (RFC 8259, section 4).
"""

import json
from collections.abc import Sequence
from typing import Any, NamedTuple, TypeVar

import msgspec

from rindline_schema.answers import CodeBlockRequest, DrillRequest, Refused
from rindline_schema.events import Event
from rindline_schema.operations import MAX_BATCH_EVENTS
from rindline_schema.problems import Fault, Problem, make_problem
from rindline_server.http.faults import MOST_FAULTS, Repeated, faults_in
from rindline_server.service import ProblemError

__all__ = [
    "NOT_DECODED",
    "RepeatedNameError",
    "Unread",
    "check_names",
    "decode_block",
    "decode_drill",
    "decode_event",
    "decode_events",
    "decode_part",
    "decode_parts",
    "decode_whole",
]

_T = TypeVar("_T")

_EVENT: msgspec.json.Decoder[Event] = msgspec.json.Decoder(Event)
_EVENTS: msgspec.json.Decoder[list[Event]] = msgspec.json.Decoder(list[Event])
_BLOCK = msgspec.json.Decoder(CodeBlockRequest)
_DRILL = msgspec.json.Decoder(DrillRequest)
_PARTS = msgspec.json.Decoder(list[msgspec.Raw])

# UnicodeDecodeError: bytes that are no UTF-8. RecursionError: nested too deep.
NOT_DECODED = (msgspec.DecodeError, UnicodeDecodeError, RecursionError)
"""What decoding a body raises if it can't be decoded."""


class RepeatedNameError(Exception):
    """A name comes twice in one object."""


def decode_event(body: bytes) -> Event:
    """Decode one event; raises the problem ``malformed`` with all its faults."""
    return decode_whole(body, _EVENT, Event)


def decode_drill(body: bytes) -> DrillRequest:
    """Decode a drill's request; raises the problem ``malformed`` with all its faults."""
    return decode_whole(body, _DRILL, DrillRequest)


def decode_block(body: bytes) -> CodeBlockRequest:
    """Decode a request for lot codes; raises the problem ``malformed`` with all its faults."""
    return decode_whole(body, _BLOCK, CodeBlockRequest)


def decode_events(body: bytes) -> Sequence[Event | Refused]:
    """Decode a batch: a malformed event is refused at its place, the others stand.

    Raises the problem ``malformed`` if the body as a whole isn't a JSON array, and
    ``too_large`` if it holds too many events.
    """
    try:
        events = _EVENTS.decode(body)
        check_names(body)
    except (*NOT_DECODED, RepeatedNameError):
        pass
    else:
        _check_count(len(events))
        return events
    try:
        parts = _PARTS.decode(body)
    except NOT_DECODED as error:
        raise ProblemError(_malformed([_whole(error)])) from None
    _check_count(len(parts))
    return decode_parts(parts)


def decode_parts(parts: Sequence[msgspec.Raw]) -> list[Event | Refused]:
    """Decode events one by one: a malformed one is refused at its place."""
    told: list[Event | Refused] = []
    room = MOST_FAULTS
    for part in parts:
        one = _decode_event_part(bytes(part), thorough=room > 0)
        if isinstance(one, Refused):
            room -= len(one.problem.faults)
        told.append(one)
    return told


def _decode_event_part(part: bytes, *, thorough: bool) -> Event | Refused:
    event = decode_part(part, _EVENT, Event, thorough=thorough)
    if not isinstance(event, Unread):
        return event
    given = event.value.get("id") if isinstance(event.value, dict) else None
    readable = isinstance(given, str) and len(given) <= 64 and given.isascii()
    return Refused(problem=event.problem, id=given if readable else None)


class Unread(NamedTuple):
    """A part that is malformed: the problem, and what could be read of it if it was looked at."""

    problem: Problem
    value: Any


def decode_part(
    part: bytes, decoder: "msgspec.json.Decoder[_T]", kind: Any, *, thorough: bool
) -> _T | Unread:
    """Decode a part of a body; ``thorough`` looks for all its faults against ``kind``."""
    try:
        value = decoder.decode(part)
        check_names(part)
    except (*NOT_DECODED, RepeatedNameError) as error:
        # To look for all faults takes a hundred times as long as to find the first.
        faults, found = _all_faults(part, kind, error) if thorough else ([_whole(error)], None)
        return Unread(_malformed(faults), found)
    return value


def decode_whole(body: bytes, decoder: "msgspec.json.Decoder[_T]", kind: Any) -> _T:
    """Decode a body; raises the problem ``malformed`` with all its faults against ``kind``."""
    try:
        value = decoder.decode(body)
        check_names(body)
    except (*NOT_DECODED, RepeatedNameError) as error:
        raise ProblemError(_malformed(_all_faults(body, kind, error)[0])) from None
    return value


def _all_faults(body: bytes, kind: Any, first: Exception) -> tuple[list[Fault], Any]:
    """Give all faults of a body that failed with ``first``, and what could be read of it."""
    try:
        value = json.loads(body, object_pairs_hook=_noting_repeats, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        return [_whole(_syntax_error(body) or first)], None
    return faults_in(value, kind) or [_whole(first)], value


def _syntax_error(body: bytes) -> Exception | None:
    """Find what makes a body no JSON at all, which matters more than what it lacks."""
    try:
        msgspec.json.decode(body)
    except NOT_DECODED as error:
        return error
    return None


def _whole(error: Exception) -> Fault:
    """Word the one fault msgspec found, with its place if it gave one."""
    if isinstance(error, RecursionError):
        return Fault(pointer="", detail="Nested too deep")
    if isinstance(error, UnicodeDecodeError):
        return Fault(pointer="", detail="Not UTF-8")
    if isinstance(error, RepeatedNameError):
        return Fault(pointer="", detail="A name is given more than once in an object")
    detail, _, place = str(error).partition(" - at `$")
    pointer = place.rstrip("`").replace("].", "/").replace("[", "/").replace("]", "")
    return Fault(pointer=pointer.replace(".", "/"), detail=detail)


def _malformed(faults: list[Fault]) -> Problem:
    first = faults[0]
    where = f"At {first.pointer}: " if first.pointer else ""
    more = f" ({len(faults)} faults in all)" if len(faults) > 1 else ""
    return make_problem("malformed", f"{where}{first.detail}.{more}", faults=faults)


def _check_count(events: int) -> None:
    if events > MAX_BATCH_EVENTS:
        detail = f"A batch may have at most {MAX_BATCH_EVENTS} events; this one has {events}."
        raise ProblemError(make_problem("too_large", detail))


def check_names(body: bytes) -> None:
    """Raise if a name comes twice in an object of a body that msgspec could decode."""
    json.loads(body, object_pairs_hook=_refusing_repeats)


def _refusing_repeats(pairs: list[tuple[str, Any]]) -> None:
    if len(pairs) > 1 and len(dict(pairs)) != len(pairs):
        raise RepeatedNameError


def _noting_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    value = dict(pairs)
    if len(value) == len(pairs):
        return value
    noted = Repeated(value)
    names = [name for name, _ in pairs]
    noted.repeated = tuple(name for name in value if names.count(name) > 1)
    return noted


def _no_constant(name: str) -> None:
    raise ValueError(name)
