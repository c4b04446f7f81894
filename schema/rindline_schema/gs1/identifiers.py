"""The application identifiers in use here: what each holds and what it must stand with.

Formats and associations after the GS1 General Specifications, sections 3 and 4.14; the table has
those identifiers that a cheese label, its case, or a supplier's label read here may carry.
"""

import re
from calendar import monthrange
from datetime import date
from typing import NamedTuple

from rindline_schema.gs1.keys import gln_fault, gtin_fault, is_variable_measure, sscc_fault

__all__ = [
    "Identifier",
    "date_of_element",
    "day_element",
    "element_fault",
    "identifier",
    "mass_element",
    "mass_of_element",
    "measure_fault",
]

# Character sets: N digits; X the 82 characters of ISO/IEC 646 that GS1 allows (figure 7.11-1).
_DIGITS = re.compile(r"[0-9]+")
_SET_82 = re.compile(r"""[!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]+""")

_MOST_GRAMS_TO_ONE = 999_999


class Identifier(NamedTuple):
    """One application identifier: format, and what has to stand in the same symbol.

    ``predefined`` ones need no separator (FNC1) after them: that follows from the first two
    digits of the identifier alone, not from its length being fixed. Each group in ``needs`` asks
    for at least one identifier of it; ``bars`` may not stand with it.
    """

    ai: str
    title: str
    least: int
    most: int
    digits: bool = True
    predefined: bool = False
    kind: str = ""
    needs: tuple[tuple[str, ...], ...] = ()
    bars: tuple[str, ...] = ()


_ITEM = (("01", "02"),)

_TABLE = {
    row.ai: row
    for row in (
        Identifier("00", "SSCC", 18, 18, predefined=True, kind="sscc"),
        Identifier("01", "GTIN", 14, 14, predefined=True, kind="gtin", bars=("02", "37")),
        Identifier("02", "CONTENT", 14, 14, predefined=True, kind="gtin", needs=(("00",), ("37",))),
        Identifier("10", "BATCH/LOT", 1, 20, digits=False, needs=_ITEM),
        Identifier("11", "PROD DATE", 6, 6, predefined=True, kind="date", needs=_ITEM),
        Identifier("13", "PACK DATE", 6, 6, predefined=True, kind="date", needs=_ITEM),
        Identifier("15", "BEST BEFORE", 6, 6, predefined=True, kind="date", needs=_ITEM),
        Identifier("17", "USE BY", 6, 6, predefined=True, kind="date", needs=_ITEM),
        Identifier("21", "SERIAL", 1, 20, digits=False, needs=(("01",),)),
        Identifier("22", "CPV", 1, 20, digits=False, needs=(("01",),)),
        Identifier("254", "GLN EXTENSION", 1, 20, digits=False, needs=(("414",),)),
        Identifier("37", "COUNT", 1, 8, needs=(("00",), ("02",))),
        Identifier("414", "LOC No.", 13, 13, predefined=True, kind="gln"),
        Identifier("422", "ORIGIN", 3, 3, needs=_ITEM, bars=("426",)),
        Identifier("426", "COUNTRY - FULL PROCESS", 3, 3, needs=_ITEM, bars=("422",)),
        Identifier("7003", "EXPIRY TIME", 10, 10, kind="minute", needs=_ITEM),
    )
}

for _places in range(6):
    _TABLE[f"310{_places}"] = Identifier(
        f"310{_places}", "NET WEIGHT (kg)", 6, 6, predefined=True, needs=_ITEM
    )
for _places in range(4):
    _TABLE[f"392{_places}"] = Identifier(
        f"392{_places}", "PRICE", 1, 15, needs=(("01",), tuple(f"310{n}" for n in range(6)))
    )


def identifier(ai: str) -> Identifier | None:
    """Give what the table says of an application identifier, or None if it is not in it."""
    return _TABLE.get(ai)


def element_fault(ai: str, value: str) -> str | None:
    """Say what is wrong with one element by itself, or give None."""
    row = _TABLE.get(ai)
    if row is None:
        return f"({ai}) is not an application identifier in use here"
    if not row.least <= len(value) <= row.most:
        length = f"{row.most}" if row.least == row.most else f"{row.least} to {row.most}"
        return f"({ai}) {row.title} has {length} characters, not {len(value)}"
    if (_DIGITS if row.digits else _SET_82).fullmatch(value) is None:
        allowed = "digits" if row.digits else "characters of GS1's set of 82"
        return f"({ai}) {row.title} has only {allowed}, not {value!r}"
    return _content_fault(row, value)


def _content_fault(row: Identifier, value: str) -> str | None:
    fault = None
    if row.kind == "gtin":
        fault = gtin_fault(value)
    elif row.kind == "sscc":
        fault = sscc_fault(value)
    elif row.kind == "gln":
        fault = gln_fault(value)
    elif row.kind == "date":
        fault = _date_fault(value, day_may_be_0=True)
    elif row.kind == "minute":
        fault = _date_fault(value[:6], day_may_be_0=False)
        if fault is None and not (int(value[6:8]) < 24 and int(value[8:]) < 60):
            fault = f"{value[6:]!r} is not a time of day"
    return f"({row.ai}) {row.title}: {fault}" if fault else None


def _date_fault(value: str, *, day_may_be_0: bool) -> str | None:
    month, day = int(value[2:4]), int(value[4:6])
    if not 1 <= month <= 12:
        return f"{value!r} names month {month}"
    # 2000 to 2099: the century decides on 29 February only in years that end in 00.
    days = monthrange(2000 + int(value[:2]), month)[1]
    if not (0 if day_may_be_0 else 1) <= day <= days:
        return f"{value!r} names day {day} of a month of {days} days"
    return None


def day_element(day: date) -> str:
    """Write a day as the identifiers 11 to 17 hold it: YYMMDD."""
    return f"{day:%y%m%d}"


def date_of_element(value: str, near: date) -> date:
    """Read YYMMDD; day 00 is the last of the month, the century is the nearest to ``near``.

    A year from 50 before to 49 after that of ``near``: GS1 General Specifications, 7.12.
    """
    year = near.year - near.year % 100 + int(value[:2])
    if year - near.year > 50:
        year -= 100
    elif year - near.year < -49:
        year += 100
    month, day = int(value[2:4]), int(value[4:6])
    return date(year, month, day or monthrange(year, month)[1])


def mass_element(mass_g: int) -> tuple[str, str]:
    """Give the identifier and value for a net mass: 3103, or 3102 from 1,000 kg on.

    Raises ValueError for a mass that six digits cannot hold without rounding.
    """
    if 0 < mass_g <= _MOST_GRAMS_TO_ONE:
        return "3103", f"{mass_g:06d}"
    if 0 < mass_g <= _MOST_GRAMS_TO_ONE * 10 and mass_g % 10 == 0:
        return "3102", f"{mass_g // 10:06d}"
    raise ValueError(f"{mass_g} g cannot be written in the six digits of a net weight")


def mass_of_element(ai: str, value: str) -> int | None:
    """Give the grams that a net weight states, or None if it is no whole number of them.

    Raises ValueError for another identifier than 3100 to 3105.
    """
    if ai not in _TABLE or not ai.startswith("310"):
        raise ValueError(f"({ai}) is not a net weight in kilograms")
    places = int(ai[3])
    if places <= 3:
        return int(value) * int(10 ** (3 - places))
    grams, rest = divmod(int(value), int(10 ** (places - 3)))
    return grams if rest == 0 else None


def measure_fault(present: dict[str, str]) -> str | None:
    """Say whether goods of variable measure stand without their measure, or give None."""
    for ai in ("01", "02"):
        gtin = present.get(ai, "")
        if is_variable_measure(gtin) and not any(f"310{n}" in present for n in range(6)):
            return f"({ai}) {gtin} names goods of variable measure, but no net weight is given"
    return None
