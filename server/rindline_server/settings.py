"""What can be set, from the environment: each field ``x`` is read from ``RINDLINE_X``."""

from collections.abc import Mapping
from typing import Annotated

import msgspec
from msgspec import Meta, Struct

__all__ = ["Settings", "SettingsError"]

_PREFIX = "RINDLINE_"

_Port = Annotated[int, Meta(ge=0, le=65_535)]
_Some = Annotated[int, Meta(ge=1, le=100_000)]
_Seconds = Annotated[float, Meta(gt=0, le=3600)]


class SettingsError(ValueError):
    """A setting has a value that cannot be; the message names it."""


class Settings(Struct, kw_only=True, frozen=True):
    """How one server runs. Limits are chosen so that no single caller can hold it up.

    ``threads`` is how many questions are worked on at once, ``waiting`` how many may wait for a
    thread before callers are told to come back. ``body_s`` is how long a body may take to arrive,
    ``header_s`` how long the headers may and how long an idle connection is kept (longer than
    the 5 s after which httpx drops one, so that the two never race), ``stall_s`` how long a
    reader may take nothing of a streamed answer, ``stop_s`` how long stopping may take.

    ``scale_least_g`` and ``scale_permille`` are how far two weighings of the same thing may
    differ before it means something: the larger of so many grams and so many thousandths.

    ``longest_gap_minutes`` is how far apart two readings of a sensor may be before the time
    between counts as unobserved; ``degree_hours_base_c`` is the base of the degree-hours;
    ``raw_milk_days`` and ``raw_milk_least_c`` are what cheese from raw milk is measured against
    (21 CFR 133: 60 days at not less than 35 degrees Fahrenheit).

    After a change of any of these but ``raw_milk_days``, run `rindline-server rebuild`.
    """

    database_url: str = "sqlite:///rindline.db"
    host: str = "127.0.0.1"
    port: _Port = 8040
    workers: Annotated[int, Meta(ge=1, le=64)] = 1
    threads: Annotated[int, Meta(ge=1, le=256)] = 8
    waiting: _Some = 256
    connections: _Some = 2048
    body_s: _Seconds = 20.0
    header_s: Annotated[float, Meta(ge=1, le=120)] = 10.0
    stall_s: _Seconds = 30.0
    stop_s: Annotated[float, Meta(ge=2, le=600)] = 30.0
    scale_least_g: Annotated[int, Meta(ge=0, le=100_000)] = 10
    scale_permille: Annotated[int, Meta(ge=0, le=100)] = 5
    longest_gap_minutes: Annotated[int, Meta(ge=1, le=1440)] = 90
    degree_hours_base_c: Annotated[float, Meta(ge=-20, le=50)] = 8.0
    raw_milk_days: Annotated[int, Meta(ge=0, le=3650)] = 60
    raw_milk_least_c: Annotated[float, Meta(ge=-20, le=50)] = 1.67

    @classmethod
    def from_environment(cls, environment: Mapping[str, str]) -> "Settings":
        """Read the settings; raises :class:`SettingsError` naming the first that is wrong."""
        given = {
            name: environment[_PREFIX + name.upper()]
            for name in cls.__struct_fields__
            if _PREFIX + name.upper() in environment
        }
        return cls().but(given)

    def but(self, given: Mapping[str, str | float]) -> "Settings":
        """Give these settings with some replaced, by field name; raises SettingsError."""
        for name, value in given.items():
            try:
                msgspec.convert({name: value}, Settings, strict=False)
            except msgspec.ValidationError as error:
                reason = str(error).partition(" - at ")[0]
                raise SettingsError(f"{_PREFIX}{name.upper()}: {reason}") from None
        return msgspec.convert({**msgspec.structs.asdict(self), **given}, Settings, strict=False)

    def environment(self) -> dict[str, str]:
        """Give the environment from which a process reads these very settings."""
        return {
            _PREFIX + name.upper(): str(value)
            for name, value in msgspec.structs.asdict(self).items()
        }
