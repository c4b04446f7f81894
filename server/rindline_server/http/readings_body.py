"""What a logger sends: readings, decoded at once, or one by one if one of them is malformed."""

import json

import msgspec

from rindline_schema.answers import Reading, ReadingBatch
from rindline_schema.answers.readings import MAX_READINGS
from rindline_schema.problems import Problem, make_problem
from rindline_server.http.decoding import (
    NOT_DECODED,
    RepeatedNameError,
    Unread,
    check_names,
    decode_part,
    decode_whole,
)
from rindline_server.http.faults import MOST_FAULTS
from rindline_server.service import ProblemError

__all__ = ["decode_readings"]


class _Batch(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A ``ReadingBatch`` whose readings are not read yet."""

    readings: list[msgspec.Raw]


_STRICT = msgspec.json.Decoder(ReadingBatch)
_LOOSE = msgspec.json.Decoder(_Batch)
_READING: msgspec.json.Decoder[Reading] = msgspec.json.Decoder(Reading)


def decode_readings(body: bytes) -> list[Reading | Problem]:
    """Decode a batch: a malformed reading is a problem at its place, the others stand.

    Raises the problem ``malformed`` if the body as a whole isn't an object with a list of
    readings, and ``too_large`` if it holds too many.
    """
    try:
        batch = _STRICT.decode(body)
        check_names(body)
    except (*NOT_DECODED, RepeatedNameError):
        return _one_by_one(body)
    return [*batch.readings]


def _one_by_one(body: bytes) -> list[Reading | Problem]:
    parts = _parts(body)
    if not parts:
        # Malformed as a whole: this says how.
        return [*decode_whole(body, _STRICT, ReadingBatch).readings]
    if len(parts) > MAX_READINGS:
        detail = f"A batch may have at most {MAX_READINGS} readings; this one has {len(parts)}."
        raise ProblemError(make_problem("too_large", detail))
    told: list[Reading | Problem] = []
    room = MOST_FAULTS
    for part in parts:
        one = decode_part(bytes(part), _READING, Reading, thorough=room > 0)
        if isinstance(one, Unread):
            room -= len(one.problem.faults)
            told.append(one.problem)
        else:
            told.append(one)
    return told


def _parts(body: bytes) -> list[msgspec.Raw]:
    """Take the readings apart; none if the body around them is not what it should be."""
    try:
        batch = _LOOSE.decode(body)
        # As a list of pairs: a name that comes twice inside a reading is that reading's fault.
        # Numbers are not looked at, and one of thousands of digits is no reason to fail.
        outermost = json.loads(body, object_pairs_hook=list, parse_int=float)
    except NOT_DECODED:
        return []
    return batch.readings if len(outermost) == 1 else []
