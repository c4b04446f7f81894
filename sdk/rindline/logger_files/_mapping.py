"""What the user states about a logger's file, checked as a whole before a line is read."""

import codecs
import collections.abc
import re
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone, tzinfo
from typing import Literal, TypeAlias
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from rindline.errors import InvalidInputError

__all__ = ["Column", "FileMapping"]

Column: TypeAlias = str | int
"""A column: its name in the header, or its number, counted from 1."""

_OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})")


@dataclass(frozen=True, kw_only=True)
class FileMapping:
    """Which column of a file holds what, and how it is written.

    Columns are named by the header, or numbered from 1. ``time`` may be several columns, whose
    texts are joined by a space (a day and a time of day, say). ``time_format`` is ``iso`` or a
    pattern of :meth:`datetime.datetime.strptime`. ``zone`` is an IANA name or an offset such as
    ``+01:00``; it is needed where the times carry no offset of their own. ``repeated_hour`` says
    which pass of the hour that comes twice at the end of daylight saving is meant, for a file
    that doesn't show it by its order.

    ``sensor`` is the code of the one sensor; else ``sensor_column`` holds codes, or names that
    ``sensors`` turns into codes. ``missing`` are texts that stand for no value. ``skip`` lines
    before the header are passed over; ``header=False`` where there is none.
    """

    time: Column | tuple[Column, ...]
    temperature: Column | None = None
    humidity: Column | None = None
    sensor: str | None = None
    sensor_column: Column | None = None
    sensors: collections.abc.Mapping[str, str] = field(default_factory=dict)
    time_format: str = "iso"
    zone: str | None = None
    repeated_hour: Literal["first", "second"] | None = None
    decimal_comma: bool = False
    delimiter: str = ","
    encoding: str = "utf-8"
    unit: Literal["celsius", "fahrenheit"] = "celsius"
    missing: tuple[str, ...] = ()
    skip: int = 0
    header: bool = True

    def __post_init__(self) -> None:
        if self.temperature is None and self.humidity is None:
            raise InvalidInputError("Say which column holds the temperature or the humidity.")
        if (self.sensor is None) == (self.sensor_column is None):
            raise InvalidInputError("Say either the sensor's code or the column that holds it.")
        if len(self.delimiter) != 1 or self.delimiter in '\r\n"':
            raise InvalidInputError(f"{self.delimiter!r} is no character that parts columns.")
        if self.decimal_comma and self.delimiter == ",":
            raise InvalidInputError(
                "With a comma in the numbers, columns are parted by something else: "
                "state the delimiter, such as a semicolon."
            )
        if self.unit not in ("celsius", "fahrenheit"):
            raise InvalidInputError(f"The unit is celsius or fahrenheit, not {self.unit!r}.")
        if self.repeated_hour not in (None, "first", "second"):
            raise InvalidInputError("The repeated hour is the first or the second one.")
        if self.skip < 0:
            raise InvalidInputError("Lines to skip are counted from 0.")
        for column in self.columns():
            if isinstance(column, int) and column < 1:
                raise InvalidInputError("Columns are numbered from 1.")
            if isinstance(column, str) and not self.header:
                raise InvalidInputError(
                    f"Without a header there is no column {column!r}: give its number."
                )
        try:
            codecs.lookup(self.encoding)
        except LookupError as error:
            raise InvalidInputError(f"There is no encoding {self.encoding!r}.") from error
        self.tz()
        self._check_format()

    def columns(self) -> list[Column]:
        """Give every column that is named."""
        named = [*self.time_columns(), self.temperature, self.humidity, self.sensor_column]
        return [column for column in named if column is not None]

    def time_columns(self) -> tuple[Column, ...]:
        """Give the columns of the time."""
        return self.time if isinstance(self.time, tuple) else (self.time,)

    def tz(self) -> tzinfo | None:
        """Give the zone, if one is stated."""
        if self.zone is None:
            return None
        if self.zone.upper() in ("UTC", "Z"):
            return timezone(timedelta())
        offset = _OFFSET.fullmatch(self.zone)
        if offset is not None:
            size = timedelta(hours=int(offset[2]), minutes=int(offset[3]))
            if size < timedelta(days=1):
                return timezone(-size if offset[1] == "-" else size)
        try:
            return ZoneInfo(self.zone)
        except (ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise InvalidInputError(
                f"{self.zone!r} is no time zone this machine knows, such as CET, and no "
                "offset such as +01:00. Windows knows none of its own: pip install tzdata."
            ) from error

    def _check_format(self) -> None:
        if self.time_format == "iso":
            return
        sample = datetime(2001, 2, 3, 4, 5, 6, tzinfo=timezone(timedelta()))
        try:
            datetime.strptime(sample.strftime(self.time_format), self.time_format)  # noqa: DTZ007 - to try it
        except ValueError as error:
            raise InvalidInputError(
                f"{self.time_format!r} is no pattern of a time, such as %d.%m.%Y %H:%M: {error}."
            ) from error
        if not re.search("%[YyGcx]", self.time_format):
            raise InvalidInputError(
                f"{self.time_format!r} has no year, so a time of it is no moment."
            )
