"""One reading, proved and encoded: what no server could take is found where it is made."""

from math import isfinite

import msgspec

from rindline.errors import InvalidInputError
from rindline_schema.answers import Reading

__all__ = ["encode_reading"]

_decoder = msgspec.json.Decoder(Reading)


def encode_reading(reading: Reading) -> bytes:
    """Give a reading as JSON; raises :class:`InvalidInputError` if it cannot be one."""
    values = [value for value in (reading.temperature_c, reading.humidity_pct) if value is not None]
    if not values:
        raise InvalidInputError("A reading has a temperature, a humidity, or both.")
    # JSON knows no NaN: it would be written as if nothing had been read.
    if not all(map(isfinite, values)):
        raise InvalidInputError("A temperature or humidity is a finite number.")
    body = msgspec.json.encode(reading)
    try:
        _decoder.decode(body)
    except msgspec.ValidationError as error:
        raise InvalidInputError(f"That reading cannot be: {error}.") from error
    return body
