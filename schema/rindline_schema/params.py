"""The query parameters of each question; unknown ones are refused."""

from datetime import date
from typing import Annotated, Literal

from msgspec import Meta, Struct

from rindline_schema.quantities import Celsius, Code, LotCode, SiteCode, Time
from rindline_schema.registers import LotKind

__all__ = [
    "AsOfParams",
    "BatchParams",
    "ClimateParams",
    "ComparisonParams",
    "ConditionsParams",
    "DiscrepancyParams",
    "FeedParams",
    "LabelParams",
    "LotSearchParams",
    "NoParams",
    "PageParams",
    "RegisterParams",
    "TraceParams",
]

_Limit = Annotated[int, Meta(ge=1, le=1000, description="Entries a page.")]
_Cursor = Annotated[str, Meta(max_length=200, description="`next_cursor` of the page before.")]
_AsOf = Annotated[int, Meta(ge=0, description="The record as it stood at this `seq`.")]


class NoParams(Struct, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """No query parameters."""


class BatchParams(Struct, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """``all_or_nothing``: record none of the events if any is refused."""

    all_or_nothing: bool = False


class FeedParams(Struct, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """Events after a ``seq``."""

    after: Annotated[int, Meta(ge=0, le=2**62)] = 0
    limit: _Limit = 100


class PageParams(Struct, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """A page of a list."""

    limit: _Limit = 100
    cursor: _Cursor | None = None


class RegisterParams(PageParams, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """A page of one register."""


class DiscrepancyParams(PageParams, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """Discrepancies: open ones, settled ones, or all; of one lot."""

    show: Literal["open", "settled", "all"] = "open"
    lot: LotCode | None = None


class LotSearchParams(PageParams, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """Lots by kind, product, site, state, day made, or the beginning of their code."""

    kind: LotKind | None = None
    product: Code | None = None
    site: SiteCode | None = None
    state: Literal["pending", "on_hand", "in_transit", "with_partners", "used_up"] | None = None
    held: bool | None = None
    made_from: date | None = None
    made_to: date | None = None
    prefix: Annotated[str, Meta(pattern=r"^[A-Z0-9]{2,20}$(?!\n)")] | None = None


class AsOfParams(Struct, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """The record as it stood at an earlier ``seq``."""

    as_of: _AsOf | None = None


class LabelParams(Struct, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """How a label is drawn: as what, on which size in mm, for a printer of so many dots a mm."""

    format: Literal["json", "svg", "png", "pdf"] | None = None
    size: Annotated[str, Meta(pattern=r"^[0-9]{2,3}x[0-9]{2,3}$")] = "62x40"
    dots_per_mm: Annotated[int, Meta(ge=8, le=24)] = 8


class TraceParams(AsOfParams, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """How a trace is written: one JSON object, NDJSON lines, or CSV (one row an edge or lot)."""

    format: Literal["json", "ndjson", "csv"] | None = None


_PictureFormat = Literal["json", "svg", "png", "pdf"]
_Series = Literal["none", "hours", "days"]
_Grades = Annotated[
    str, Meta(min_length=1, max_length=400, description="Grades, with commas between.")
]


class ClimateParams(Struct, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """The air from one time (28 days before the other) to another (now); at most 400 days.

    ``base_c`` is the base of the degree-hours, if not the server's. ``series`` adds the air hour
    by hour or day by day.
    """

    from_at: Time | None = None
    until_at: Time | None = None
    base_c: Celsius | None = None
    series: _Series = "none"
    format: _PictureFormat | None = None


class ConditionsParams(Struct, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """How the conditions of a lot are given; see :class:`ClimateParams`."""

    base_c: Celsius | None = None
    series: _Series = "none"
    format: _PictureFormat | None = None


class ComparisonParams(Struct, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """Which wheels are compared (product, days made), by what, and which count as well judged.

    By the grade of the last ironing, if ``well`` or ``badly`` names some (with one side named,
    every other grade is the other side); else by the mean of its scores: the upper third against
    the lower third.
    """

    by: Literal["make", "room", "shelf"] = "make"
    product: Code | None = None
    made_from: date | None = None
    made_to: date | None = None
    well: _Grades | None = None
    badly: _Grades | None = None
