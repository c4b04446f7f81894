"""Events out of a file: a JSON object, an array of them, or one object a line (NDJSON)."""

import sys
from collections.abc import Iterator
from pathlib import Path

import msgspec

from rindline.errors import InvalidInputError
from rindline_schema.events import Event

__all__ = ["read_events"]


def read_events(file: str) -> list[Event]:
    """Read all events; raises :class:`InvalidInputError`, with the place, if one is none."""
    try:
        data = sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    except OSError as error:
        raise InvalidInputError(f"{file} cannot be read: {error.strerror}.") from error
    events = []
    decoder: msgspec.json.Decoder[Event] = msgspec.json.Decoder(Event)
    for where, text in _parts(data):
        try:
            events.append(decoder.decode(text))
        except msgspec.MsgspecError as error:
            raise InvalidInputError(
                f"{file}, {where}: {error}. Nothing was told. Every event needs an id of its own "
                "(a UUID of version 7), so that telling the file again records it once."
            ) from error
    if not events:
        raise InvalidInputError(f"{file} holds no events.")
    return events


def _parts(data: bytes) -> Iterator[tuple[str, bytes | msgspec.Raw]]:
    if data.lstrip().startswith(b"["):
        try:
            entries = msgspec.json.decode(data, type=list[msgspec.Raw])
        except msgspec.MsgspecError as error:
            raise InvalidInputError(f"That is not an array of events: {error}.") from error
        for number, entry in enumerate(entries, 1):
            yield f"event {number}", entry
        return
    try:
        # One object, perhaps over many lines; lines of objects fail here at the second.
        whole = msgspec.json.decode(data, type=msgspec.Raw)
    except msgspec.MsgspecError:
        for number, line in enumerate(data.splitlines(), 1):
            if line.strip():
                yield f"line {number}", line
    else:
        yield "the event", whole
