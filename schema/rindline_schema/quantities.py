"""The field types events and answers share: codes, quantities, times, all with their limits."""

from datetime import datetime
from typing import Annotated

from msgspec import Meta

from rindline_schema.codes import LOT_CODE_PATTERN

__all__ = [
    "Celsius",
    "Code",
    "Count",
    "Density",
    "Grams",
    "LongText",
    "LotCode",
    "Millilitres",
    "PositiveGrams",
    "ShortText",
    "SiteCode",
    "Sscc",
    "Time",
]

# `$` alone also fits before a newline at the end: hence the `(?!\n)` in every pattern.
LotCode = Annotated[str, Meta(pattern=LOT_CODE_PATTERN, max_length=20, description="A lot code.")]
Sscc = Annotated[str, Meta(pattern=r"^[0-9]{18}$(?!\n)", description="A case's SSCC, 18 digits.")]
SiteCode = Annotated[
    str, Meta(pattern=r"^[A-Z]{2,4}$(?!\n)", description="A site: 2 to 4 letters.")
]
Code = Annotated[
    str,
    Meta(
        pattern=r"^[A-Z0-9][A-Z0-9_-]{0,31}$(?!\n)",
        description="A register entry's code: A-Z, 0-9, - and _, at most 32 characters.",
    ),
]
ShortText = Annotated[
    str,
    # Control characters have no place on a label or a document; databases refuse NUL.
    Meta(min_length=1, max_length=200, pattern=r"^[^\x00-\x1f\x7f]*$(?!\n)"),
]
LongText = Annotated[str, Meta(min_length=1, max_length=2000, pattern=r"^[^\x00]*$(?!\n)")]

_MOST_GRAMS = 100_000_000_000
Grams = Annotated[int, Meta(ge=0, le=_MOST_GRAMS, description="Mass in grams.")]
PositiveGrams = Annotated[int, Meta(ge=1, le=_MOST_GRAMS, description="Mass in grams.")]
Millilitres = Annotated[int, Meta(ge=1, le=_MOST_GRAMS, description="Volume in millilitres.")]
Count = Annotated[int, Meta(ge=1, le=1_000_000, description="Number of pieces.")]
Density = Annotated[
    int, Meta(ge=500, le=2000, description="Density in grams a litre; milk is about 1030.")
]
Celsius = Annotated[
    float, Meta(ge=-50, le=150, description="Temperature in degrees Celsius, to 0.01.")
]
Time = Annotated[datetime, Meta(tz=True, description="A time with its offset from UTC (RFC 3339).")]
