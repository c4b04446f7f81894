"""Lot codes: readable, short, and proof against a mistyped or swapped character.

A code is the site's letters, two-digit year and day of year, one letter for the kind of lot,
a serial of at least four digits, and an ISO/IEC 7064 MOD 37,36 check character, for example
``QM26032W0017`` followed by its check character. It uses 0-9 and A-Z only and at most 20
characters, so it fits a GS1 batch/lot field (AI 10).

MOD 37,36 by itself misses a few swaps of neighbouring characters (about 0.16 % of them, where
the two characters follow one another in the alphabet). Where such a blind spot lies in the
serial, the code is not well formed. Where it lies before the serial (on some days, or for some
sites), skipping would leave no code at all, so there the serial tells the two apart: it is even
or odd as the number of pairs before it that stand in falling order, which any swap of neighbours
changes by one. :func:`lot_code` skips all other serials, :func:`lot_code_fault` rejects them.
"""

import re
from calendar import isleap
from datetime import date
from typing import NamedTuple

__all__ = [
    "KIND_LETTERS",
    "LOT_CODE_PATTERN",
    "LotCodeParts",
    "check_character",
    "is_lot_code",
    "kind_of_code",
    "lot_code",
    "lot_code_fault",
    "lot_code_prefix",
    "parse_lot_code",
    "split_lot_code",
]

_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_VALUES = {character: value for value, character in enumerate(_ALPHABET)}

KIND_LETTERS = {
    "milk": "M",
    "ingredient": "N",
    "make": "V",
    "wheel": "W",
    "portion": "P",
    "trim": "T",
    "blend": "B",
}
"""The letter that stands for each kind of lot in its code."""

_KINDS = {letter: kind for kind, letter in KIND_LETTERS.items()}

LOT_CODE_PATTERN = r"^[A-Z]{2,4}[0-9]{5}[MNVWPTB][0-9]{4,9}[0-9A-Z]$(?!\n)"
"""The shape of a lot code (at most 20 characters); the check character is proved separately."""

_SHAPE = re.compile(r"([A-Z]{2,4})([0-9]{2})([0-9]{3})([MNVWPTB])([0-9]{4,9})[0-9A-Z]")


class LotCodeParts(NamedTuple):
    """What a lot code says: site letters, day it was made, kind of lot, serial of that day."""

    site: str
    day: date
    kind: str
    serial: int


def check_character(text: str) -> str:
    """Give the ISO/IEC 7064 MOD 37,36 check character of ``text`` (0-9 and A-Z only)."""
    product = 36
    for character in text:
        product = (product + _VALUES[character]) % 36 or 36
        product = product * 2 % 37
    return _ALPHABET[(37 - product) % 36]


def _passes(code: str) -> bool:
    return _SHAPE.fullmatch(code) is not None and check_character(code[:-1]) == code[-1]


def _blind_spots(code: str) -> list[int]:
    """Give the places of a passing code where swapping it with its neighbour passes as well."""
    spots = []
    for i in range(len(code) - 1):
        first, second = code[i], code[i + 1]
        # Only characters next to one another in the alphabet can escape the check, or the
        # check character itself; testing the cheap condition first keeps this quick.
        if first != second and (
            abs(_VALUES[first] - _VALUES[second]) in (1, 35) or i == len(code) - 2
        ):
            swapped = code[:i] + second + first + code[i + 2 :]
            if _passes(swapped):
                spots.append(i)
    return spots


def _is_swap_proof(code: str) -> bool:
    """Tell whether no swap of neighbours in a passing code would give a well-formed code."""
    spots = _blind_spots(code)
    if not spots:
        return True
    prefix, serial = split_lot_code(code)
    if spots[-1] >= len(prefix):
        return False
    falling = sum(later < earlier for i, earlier in enumerate(prefix) for later in prefix[i + 1 :])
    return serial % 2 == falling % 2


def lot_code_prefix(site: str, day: date, kind: str) -> str:
    """Give the part of a lot code before the serial: site letters, year, day of year, kind."""
    return f"{site}{day.year % 100:02d}{day.timetuple().tm_yday:03d}{KIND_LETTERS[kind]}"


def lot_code(prefix: str, serial: int) -> str | None:
    """Build a code from its prefix and a serial from 1 on.

    Returns None for serials whose code would not be proof against a swap (about one in fifty,
    and every second one under a few prefixes): take the next serial then.
    """
    body = f"{prefix}{serial:04d}"
    code = body + check_character(body)
    return code if _passes(code) and _is_swap_proof(code) else None


def lot_code_fault(code: str) -> str | None:
    """Say in one sentence what is wrong with a code, or give None if it is well formed."""
    shape = _SHAPE.fullmatch(code)
    if shape is None or len(code) > 20:
        return f"{code!r} does not have the shape of a lot code"
    days = 366 if isleap(2000 + int(shape[2])) else 365
    if not 1 <= int(shape[3]) <= days:
        return f"{code!r} names day {shape[3]} of the year"
    if check_character(code[:-1]) != code[-1] or not _is_swap_proof(code):
        return f"{code!r} fails its check character: a character is wrong or two are swapped"
    return None


def is_lot_code(code: str) -> bool:
    """Tell whether a code is well formed, check character included."""
    return lot_code_fault(code) is None


def kind_of_code(code: str) -> str:
    """Give the kind of lot a well-formed code names (``"wheel"`` for W, and so on)."""
    shape = _SHAPE.fullmatch(code)
    if shape is None:
        raise ValueError(f"{code!r} does not have the shape of a lot code")
    return _KINDS[shape[4]]


def split_lot_code(code: str) -> tuple[str, int]:
    """Give the prefix (site, day, kind) and the serial of a well-formed code."""
    letters = len(code) - len(code.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
    return code[: letters + 6], int(code[letters + 6 : -1])


def parse_lot_code(code: str) -> LotCodeParts:
    """Take a code apart; raises ValueError, with what is wrong, if it isn't well formed."""
    fault = lot_code_fault(code)
    shape = _SHAPE.fullmatch(code)
    if fault is not None or shape is None:
        raise ValueError(fault)
    year_start = date(2000 + int(shape[2]), 1, 1)
    day = date.fromordinal(year_start.toordinal() + int(shape[3]) - 1)
    return LotCodeParts(shape[1], day, _KINDS[shape[4]], int(shape[5]))
