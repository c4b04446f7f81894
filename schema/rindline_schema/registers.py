"""Register entries: what a business declares once and its events then name by code.

Every entry has ``register`` (which register), ``code`` and ``name``. A later declaration of the
same code is a new version of the entry, in force from its ``at`` on.
"""

from typing import Annotated, Literal

from msgspec import Meta, Struct

from rindline_schema.quantities import (
    Celsius,
    Code,
    Count,
    LongText,
    PositiveGrams,
    ShortText,
    SiteCode,
)

__all__ = [
    "LotKind",
    "MilkTreatment",
    "Partner",
    "Product",
    "RegisterEntry",
    "RegisterName",
    "Room",
    "Sensor",
    "Site",
    "Tool",
]

LotKind = Literal["milk", "ingredient", "make", "wheel", "portion", "trim", "blend"]
MilkTreatment = Literal["raw", "thermised", "pasteurised"]
RegisterName = Literal["site", "room", "sensor", "tool", "partner", "product"]

_Percent = Annotated[float, Meta(ge=0, le=100, description="Relative humidity in %, to 0.1.")]


class _Entry(
    Struct,
    tag_field="register",
    kw_only=True,
    frozen=True,
    forbid_unknown_fields=True,
    omit_defaults=True,
):
    """What all register entries have."""

    name: ShortText


class Site(_Entry, kw_only=True, frozen=True, tag="site"):
    """A place of the business; its code is the letters its lot codes begin with."""

    code: SiteCode
    address: LongText | None = None
    approval_number: ShortText | None = None
    gln: Annotated[str, Meta(pattern=r"^[0-9]{13}$(?!\n)")] | None = None


class Room(_Entry, kw_only=True, frozen=True, tag="room"):
    """A room, tank or yard of a site, with the limits its air should keep."""

    code: Code
    site: SiteCode
    least_c: Celsius | None = None
    most_c: Celsius | None = None
    least_humidity_pct: _Percent | None = None
    most_humidity_pct: _Percent | None = None


class Sensor(_Entry, kw_only=True, frozen=True, tag="sensor"):
    """A sensor and the room it hangs in from the declaration's time on; offsets are added."""

    code: Code
    room: Code
    offset_c: Annotated[float, Meta(ge=-20, le=20)] = 0.0
    offset_humidity_pct: Annotated[float, Meta(ge=-50, le=50)] = 0.0


class Tool(_Entry, kw_only=True, frozen=True, tag="tool"):
    """Something that touches cheese or milk and is cleaned: a vat, needles, an iron, a wire."""

    code: Code
    kind: Literal["vat", "needles", "cheese_iron", "wire", "cutting_machine", "brush", "other"]
    site: SiteCode | None = None


class Partner(_Entry, kw_only=True, frozen=True, tag="partner"):
    """A business we buy from, sell to, or send samples to."""

    code: Code
    roles: Annotated[
        list[Literal["supplier", "customer", "laboratory", "carrier"]],
        Meta(min_length=1, max_length=4),
    ]
    address: LongText | None = None
    approval_number: ShortText | None = None
    gln: Annotated[str, Meta(pattern=r"^[0-9]{13}$(?!\n)")] | None = None


class Product(_Entry, kw_only=True, frozen=True, tag="product"):
    """What a lot is: its kind, how it is weighed, and what its label must say."""

    code: Code
    kind: LotKind
    weight: Literal["fixed", "variable"] = "variable"
    net_mass_g: PositiveGrams | None = None
    gtin: Annotated[str, Meta(pattern=r"^([0-9]{8}|[0-9]{12,14})$(?!\n)")] | None = None
    shelf_life_days: Count | None = None
    milk_treatment: MilkTreatment | None = None
    milk_from: ShortText | None = None
    allergens: Annotated[list[ShortText], Meta(max_length=20)] = []
    storage: ShortText | None = None
    label_name: ShortText | None = None
    language: Annotated[str, Meta(pattern=r"^[a-z]{2}$(?!\n)")] = "en"


RegisterEntry = Site | Room | Sensor | Tool | Partner | Product
