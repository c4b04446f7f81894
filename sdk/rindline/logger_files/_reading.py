"""A logger's file as readings, and every line that is none."""

import codecs
from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

from msgspec import Struct

from rindline._readings import encode_reading
from rindline.errors import InvalidInputError
from rindline.logger_files._lines import BadLine, Cells, cells_of, number_of, time_of
from rindline.logger_files._local_times import Resolved, resolve_times
from rindline.logger_files._mapping import FileMapping
from rindline_schema.answers import Reading

__all__ = ["BadRow", "FileRead", "GoodRow", "decode_file", "read_file"]


class GoodRow(NamedTuple):
    """A line, counted from 1, and what it says."""

    line: int
    reading: Reading


class BadRow(Struct, frozen=True):
    """A line, counted from 1, that became no reading: why, and its text."""

    line: int
    why: str
    text: str


class FileRead(NamedTuple):
    """All lines of a file that have something on them, in its order."""

    good: list[GoodRow]
    bad: list[BadRow]


class _Row(NamedTuple):
    cells: Cells
    sensor: str
    time: datetime
    temperature_c: float | None
    humidity_pct: float | None


def decode_file(data: bytes, encoding: str) -> str:
    """Give the text of a file; raises :class:`InvalidInputError` if it is not of this encoding.

    A mark at the beginning that tells the encoding is passed over.
    """
    if codecs.lookup(encoding).name == "utf-8":
        encoding = "utf-8-sig"
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InvalidInputError(
            f"Line {line} is not {encoding.removesuffix('-sig')}: state the encoding, cp1252 say."
        ) from error
    except UnicodeError as error:
        raise InvalidInputError(f"The file is not {encoding}: {error}.") from error


def read_file(text: str, mapping: FileMapping) -> FileRead:
    """Read a whole file; raises :class:`InvalidInputError` if the mapping doesn't fit its header.

    Times are resolved for each sensor by itself, in the order of the file.
    """
    rows: list[_Row] = []
    bad: list[BadRow] = []
    for cells in cells_of(text, mapping):
        try:
            rows.append(_row(cells, mapping))
        except BadLine as error:
            bad.append(BadRow(cells.line, str(error), cells.text))
    good = []
    for row, moment in _resolved(rows, mapping):
        try:
            good.append(GoodRow(row.cells.line, _reading(row, moment)))
        except BadLine as error:
            bad.append(BadRow(row.cells.line, str(error), row.cells.text))
    return FileRead(good, sorted(bad, key=lambda one: one.line))


def _row(cells: Cells, mapping: FileMapping) -> _Row:
    if cells.fault is not None:
        raise BadLine(cells.fault)
    time = time_of(cells.time, mapping)
    temperature = number_of(cells.temperature, "temperature", mapping)
    humidity = number_of(cells.humidity, "humidity", mapping)
    if temperature is None and humidity is None:
        raise BadLine("it has no value")
    if temperature is not None and mapping.unit == "fahrenheit":
        temperature = round((temperature - 32) * 5 / 9, 3)
    return _Row(cells, _sensor(cells, mapping), time, temperature, humidity)


def _sensor(cells: Cells, mapping: FileMapping) -> str:
    if mapping.sensor is not None:
        return mapping.sensor
    return mapping.sensors.get(cells.sensor, cells.sensor)


def _resolved(rows: list[_Row], mapping: FileMapping) -> Iterator[tuple[_Row, Resolved]]:
    by_sensor: dict[str, list[int]] = defaultdict(list)
    for place, row in enumerate(rows):
        by_sensor[row.sensor].append(place)
    moments: dict[int, Resolved] = {}
    zone = mapping.tz()
    for places in by_sensor.values():
        times = [rows[place].time for place in places]
        moments.update(zip(places, resolve_times(times, zone, mapping.repeated_hour), strict=True))
    for place, row in enumerate(rows):
        yield row, moments[place]


def _reading(row: _Row, moment: Resolved) -> Reading:
    if isinstance(moment, str):
        raise BadLine(moment)
    reading = Reading(
        sensor=row.sensor,
        at=moment,
        temperature_c=row.temperature_c,
        humidity_pct=row.humidity_pct,
    )
    try:
        encode_reading(reading)
    except InvalidInputError as error:
        raise BadLine(str(error)) from error
    return reading
