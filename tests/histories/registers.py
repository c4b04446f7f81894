"""The registers of an invented dairy: what is declared before anything else is told."""

from datetime import UTC, datetime
from uuid import UUID

from rindline_schema.events import Declare
from rindline_schema.registers import (
    LotKind,
    Partner,
    Product,
    RegisterEntry,
    Room,
    Site,
    Tool,
)
from rindline_schema.uuid7 import uuid7

__all__ = ["BEGIN", "CUSTOMERS", "ROOMS", "SITES", "declarations", "entries"]

BEGIN = datetime(2026, 1, 5, 6, 0, tzinfo=UTC)
SITES = ("QM", "QR", "QC")
ROOMS = {
    "QM": ("QM-WARM", "QM-YARD"),
    "QR": ("QR-1", "QR-2", "QR-3"),
    "QC": ("QC-CUT", "QC-COLD"),
}
CUSTOMERS = ("SHOP-1", "SHOP-2", "SHOP-3")

_PRODUCTS: tuple[tuple[str, LotKind], ...] = (
    ("MILK", "milk"),
    ("RENNET", "ingredient"),
    ("SALT", "ingredient"),
    ("CURD", "make"),
    ("BLUE", "wheel"),
    ("WEDGE", "portion"),
    ("HALF", "portion"),
    ("TRIM", "trim"),
    ("CRUMBLE", "blend"),
)


def entries() -> list[RegisterEntry]:
    """Sites, rooms, tools, partners and products that the histories name."""
    made: list[RegisterEntry] = [Site(code=code, name=f"Quillmere {code}") for code in SITES]
    made += [
        Room(code=room, name=room, site=site) for site, rooms in ROOMS.items() for room in rooms
    ]
    made += [
        Tool(code="VAT-1", name="vat", kind="vat"),
        Tool(code="NEEDLES", name="needles", kind="needles"),
        Tool(code="IRON", name="iron", kind="cheese_iron"),
        Tool(code="WIRE", name="wire", kind="wire"),
    ]
    made += [
        Partner(code="HERD-1", name="first herd", roles=["supplier"]),
        Partner(code="HERD-2", name="second herd", roles=["supplier"]),
        Partner(code="DRY-GOODS", name="salt and rennet", roles=["supplier"]),
        Partner(code="LAB", name="laboratory", roles=["laboratory"]),
    ]
    made += [Partner(code=code, name=code, roles=["customer"]) for code in CUSTOMERS]
    made += [Product(code=code, name=code, kind=kind) for code, kind in _PRODUCTS]
    return made


def declarations() -> list[Declare]:
    """Declare all of them, sites first."""
    return [
        Declare(id=_id(i), at=BEGIN, site=SITES[0], entry=entry)
        for i, entry in enumerate(entries())
    ]


def _id(number: int) -> UUID:
    return uuid7(int(BEGIN.timestamp() * 1000), number.to_bytes(10, "big"))
