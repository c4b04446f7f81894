"""Lines of a scale: bytes into lines, a line into a mass. Pure: no port, no clock."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from rindline.errors import InvalidInputError

__all__ = ["LineFormat", "LineSplitter", "Reading", "grams_of"]

_UNIT_G = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    # Exact by definition: International Yard and Pound Agreement, 1959.
    "lb": Decimal("453.59237"),
}
_NUMBER = re.compile(r"[+-]?[0-9]{1,9}(\.[0-9]{1,6})?")
_GROUPS = frozenset({"value", "gross", "tare", "sign", "unit", "stable", "fault"})
_LONGEST_LINE = 256


def grams_of(number: str, unit: str) -> int:
    """Turn a number as text and its unit (g, kg or lb, in any case) into whole grams.

    The conversion is exact; what is finer than a gram is rounded, a half to the even gram.
    Raises ValueError for another unit or for what is not a plain decimal number.
    """
    factor = _UNIT_G.get(unit.strip().lower())
    if factor is None:
        raise ValueError(f"{unit!r} is not one of the units {', '.join(_UNIT_G)}")
    if _NUMBER.fullmatch(number) is None:
        raise ValueError(f"{number!r} is not a number")
    return int((Decimal(number) * factor).quantize(Decimal(1), ROUND_HALF_EVEN))


@dataclass(frozen=True, slots=True)
class Reading:
    """What one line says: net mass in grams, and whether the scale calls it stable.

    ``stable`` is None where the scale's lines say nothing of it.
    """

    mass_g: int
    stable: bool | None = None


class LineFormat:
    r"""How a scale writes a line: a regular expression with named groups that fits it whole.

    Groups: ``value`` is the net mass as shown; or ``gross`` and ``tare``, and their difference
    is taken. ``sign``, ``unit`` and ``stable`` where the line has them; a line whose ``fault``
    group (overload, low battery) matched anything is no mass. ``unit`` (g, kg, lb) is for lines
    that name none; ``stable_when`` lists the texts of the group ``stable`` that mean it;
    ``decimal`` is the decimal sign. For example
    ``LineFormat(r"(?P<stable>ST|US),NT,(?P<value>[+-]\d{4}\.\d{3})(?P<unit>kg)")``.

    Say the exact number of digits where the scale always writes as many: a line that lost one on
    its way then fits no more. Raises :class:`rindline.InvalidInputError` for an unfit pattern.
    """

    def __init__(
        self,
        pattern: str,
        *,
        unit: str | None = None,
        stable_when: Iterable[str] = ("S", "ST"),
        decimal: str = ".",
    ) -> None:
        try:
            self._pattern = re.compile(pattern, re.ASCII)
        except re.error as error:
            raise InvalidInputError(f"The scale's line pattern is not one: {error}.") from error
        names = frozenset(self._pattern.groupindex)
        if names - _GROUPS:
            unknown = ", ".join(sorted(names - _GROUPS))
            known = ", ".join(sorted(_GROUPS))
            raise InvalidInputError(f"The line pattern names {unknown}; groups are {known}.")
        if ("value" in names) == ({"gross", "tare"} <= names) or ("value" in names) == (
            "gross" in names
        ):
            raise InvalidInputError(
                "The line pattern needs a group `value` (net), or else `gross` and `tare`."
            )
        if unit is None and "unit" not in names:
            raise InvalidInputError("The line pattern names no `unit`: say which unit it is in.")
        if unit is not None and unit.strip().lower() not in _UNIT_G:
            raise InvalidInputError(f"{unit!r} is not one of the units {', '.join(_UNIT_G)}.")
        if decimal not in (".", ","):
            raise InvalidInputError("The decimal sign is a point or a comma.")
        self._names = names
        self._unit = unit
        self._stable_when = frozenset(stable_when)
        self._decimal = decimal

    def read(self, line: str) -> Reading | None:
        """Read a line without its line end; gives None if it is not a mass in this format."""
        found = self._pattern.fullmatch(line)
        if found is None:
            return None
        said = {name: text.strip() for name, text in found.groupdict("").items()}
        if said.get("fault"):
            return None
        unit = said.get("unit") or self._unit or ""
        try:
            if "value" in self._names:
                mass_g = self._grams(said.get("sign", "") + said["value"], unit)
            else:
                gross_g = self._grams(said.get("sign", "") + said["gross"], unit)
                mass_g = gross_g - self._grams(said["tare"], unit)
        except ValueError:
            return None
        stable = said["stable"] in self._stable_when if "stable" in self._names else None
        return Reading(mass_g, stable)

    def _grams(self, text: str, unit: str) -> int:
        number = text.replace(" ", "")
        if self._decimal == ",":
            if "." in number:
                raise ValueError(text)
            number = number.replace(",", ".")
        return grams_of(number, unit)


class LineSplitter:
    """Puts bytes together into lines, which end with CR, LF or both.

    What comes first after the start or :meth:`restart` may be the end of a line that began
    earlier, so it is dropped up to the first line end. A line that cannot be one (longer than
    256 bytes, or not ASCII) is given as None.
    """

    def __init__(self) -> None:
        self._begun = b""
        self._whole = False

    def restart(self) -> None:
        """Forget what was begun: bytes are missing from here on."""
        self._begun = b""
        self._whole = False

    def feed(self, data: bytes) -> list[str | None]:
        """Take bytes as they came; gives the lines that are complete now, without blank ones."""
        *parts, rest = re.split(rb"[\r\n]", self._begun + data)
        lines: list[str | None] = []
        for part in parts:
            if not self._whole:
                self._whole = True
            elif part:
                lines.append(_text(part))
        # Keep one byte too many of an endless line, so that its end is still seen as too long.
        self._begun = rest[: _LONGEST_LINE + 1]
        return lines


def _text(part: bytes) -> str | None:
    if len(part) > _LONGEST_LINE or not part.isascii():
        return None
    # Some scales frame a line with STX and ETX.
    return part.decode("ascii").strip(" \t\x02\x03")
