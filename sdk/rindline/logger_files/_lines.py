"""Lines of a file into cells of the mapping's columns, and cells into values."""

import csv
import io
import re
from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

from rindline.errors import InvalidInputError
from rindline.logger_files._mapping import Column, FileMapping

__all__ = ["BadLine", "Cells", "cells_of", "number_of", "time_of"]

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_UNITS = {
    "celsius": ("°C", "ºC", "C"),
    "fahrenheit": ("°F", "ºF", "F"),
    "humidity": ("% RH", "%RH", "% rF", "%rF", "%"),
}


class BadLine(Exception):  # noqa: N818 - it never leaves this package
    """A line cannot be read; the text says why."""


class Cells(NamedTuple):
    """What a line holds in the columns that are asked for; ``fault`` if it cannot be parted."""

    line: int
    text: str
    time: str = ""
    temperature: str = ""
    humidity: str = ""
    sensor: str = ""
    fault: str | None = None


class _Places(NamedTuple):
    time: tuple[int, ...]
    temperature: int | None
    humidity: int | None
    sensor: int | None


def cells_of(text: str, mapping: FileMapping) -> Iterator[Cells]:
    """Give the cells of each line that has something on it.

    A row is a line: a stray quote spoils its own line and not those after it. Raises
    :class:`InvalidInputError` if the header doesn't have the columns.
    """
    lines = enumerate(io.StringIO(text, newline=None), 1)
    for _ in range(mapping.skip):
        next(lines, None)
    names = _header(lines, mapping) if mapping.header else None
    places = _places(names, mapping)
    for number, line in lines:
        bare = line.rstrip("\n")
        if bare.strip(f"{mapping.delimiter} \t\0\x1a"):
            yield _parted(number, bare, mapping, places)


def _parted(number: int, line: str, mapping: FileMapping, places: _Places) -> Cells:
    try:
        row = _row(line, mapping)
        return Cells(
            number,
            line,
            " ".join(_cell(row, place) for place in places.time),
            *(
                "" if place is None else _cell(row, place)
                for place in (places.temperature, places.humidity, places.sensor)
            ),
        )
    except (BadLine, csv.Error) as error:
        return Cells(number, line, fault=str(error))


def _row(line: str, mapping: FileMapping) -> list[str]:
    reader = csv.reader([line], delimiter=mapping.delimiter, skipinitialspace=True, strict=True)
    return next(reader, [])


def _cell(row: list[str], place: int) -> str:
    if place >= len(row):
        raise BadLine(f"it has {len(row)} columns, and column {place + 1} is asked for")
    return row[place].strip()


def _header(lines: Iterator[tuple[int, str]], mapping: FileMapping) -> list[str]:
    """Read the first line that has something on it."""
    header = next((line for _, line in lines if line.strip()), None)
    if header is None:
        raise InvalidInputError("The file has no line for a header.")
    try:
        return [name.strip() for name in _row(header.rstrip("\n"), mapping)]
    except csv.Error as error:
        raise InvalidInputError(f"The header cannot be read: {error}.") from error


def _places(names: list[str] | None, mapping: FileMapping) -> _Places:
    def place(column: Column | None) -> int | None:
        return None if column is None else _place(column, names)

    return _Places(
        tuple(_place(column, names) for column in mapping.time_columns()),
        place(mapping.temperature),
        place(mapping.humidity),
        place(mapping.sensor_column),
    )


def _place(column: Column, names: list[str] | None) -> int:
    if isinstance(column, int):
        return column - 1
    assert names is not None, "the mapping refuses names without a header"
    wanted = column.strip()
    found = [i for i, name in enumerate(names) if name == wanted] or [
        i for i, name in enumerate(names) if name.casefold() == wanted.casefold()
    ]
    if len(found) == 1:
        return found[0]
    listed = ", ".join(repr(name) for name in names)
    many = "more than one column" if found else "no column"
    raise InvalidInputError(
        f"The header has {many} {column!r}: it has {listed}. Columns may also be numbered; "
        "is the delimiter right, and are lines to be skipped before the header?"
    )


def number_of(text: str, what: str, mapping: FileMapping) -> float | None:
    """Read a number, None for no value; raises :class:`BadLine`."""
    if not text or text in mapping.missing:
        return None
    bare = text.replace("\u2212", "-")
    for unit in _UNITS["humidity" if what == "humidity" else mapping.unit]:
        if bare.endswith(unit):
            bare = bare[: -len(unit)].rstrip()
            break
    if mapping.decimal_comma:
        if "." in bare:
            raise BadLine(f"{what} {text!r} has a point, and commas were stated")
        bare = bare.replace(",", ".")
    if not (bare.isascii() and _NUMBER.fullmatch(bare)):
        hint = ": is it a decimal comma?" if "," in bare else ""
        raise BadLine(f"{what} {text!r} is not a number{hint}")
    return float(bare)


def time_of(text: str, mapping: FileMapping) -> datetime:
    """Read a time as it is written, with or without an offset; raises :class:`BadLine`."""
    try:
        if mapping.time_format == "iso":
            return datetime.fromisoformat(text)
        return datetime.strptime(text, mapping.time_format)  # noqa: DTZ007 - the zone is stated apart
    except ValueError:
        raise BadLine(f"time {text!r} is not of the form {mapping.time_format}") from None
