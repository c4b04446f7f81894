"""An example of every kind of event, written with the contract's own types.

In the order of their times they are the story of one wheel; tests/contract tells it to a server.
"""

from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.events import (
    Arrive,
    Blend,
    Clean,
    Correct,
    Cut,
    Declare,
    Discard,
    Discarded,
    Dispatch,
    Document,
    Event,
    Heat,
    Hold,
    Hoop,
    Input,
    Iron,
    Label,
    Line,
    Make,
    MilkTests,
    Move,
    NewLot,
    NewWheel,
    Pack,
    Packed,
    Piece,
    Place,
    Receive,
    Release,
    Result,
    Sample,
    Settle,
    Tend,
    Unpack,
    Weigh,
)
from rindline_schema.gs1 import sscc
from rindline_schema.registers import Product
from rindline_schema.uuid7 import uuid7

__all__ = [
    "BLEND",
    "CASE",
    "DECLARED",
    "EVENT_EXAMPLES",
    "MAKE",
    "MILK",
    "PORTION",
    "TRIM",
    "WHEEL",
    "example_id",
    "example_time",
]

_MADE_ON = date(2025, 3, 3)
_FIRST = datetime(2025, 3, 3, 6, 30, tzinfo=UTC)


def example_time(day: int, hour: int = 0) -> datetime:
    """Give a time some days and hours after the first event of the examples."""
    return _FIRST + timedelta(days=day, hours=hour)


def example_id(number: int, day: int = 0) -> UUID:
    """Give an id that always comes out the same."""
    unix_ms = int(example_time(day).timestamp() * 1000) + number
    return uuid7(unix_ms, number.to_bytes(10, "big"))


def _lot(kind: str, serial: int, day: int = 0) -> str:
    prefix = lot_code_prefix("QM", _MADE_ON + timedelta(days=day), kind)
    codes = (lot_code(prefix, serial + later) for later in range(100))
    return next(code for code in codes if code is not None)


MILK = _lot("milk", 1)
MAKE = _lot("make", 1)
WHEEL = _lot("wheel", 1)
PORTION = _lot("portion", 1, 70)
TRIM = _lot("trim", 1, 70)
BLEND = _lot("blend", 1, 71)
CASE = sscc(0, "952012345", 17)  # a prefix GS1 keeps for examples
_HALF_G = 3_960

DECLARED = Declare(
    id=example_id(1, -1),
    at=example_time(-1),
    site="QM",
    entry=Product(
        code="QUILLMERE-BLUE-WEDGE",
        name="Quillmere Blue, wedge of about 200 g",
        kind="portion",
        milk_treatment="pasteurised",
        allergens=["milk"],
        storage="Keep between 2 and 8 degrees Celsius",
    ),
)

EVENT_EXAMPLES: dict[str, Event] = {
    "declare": DECLARED,
    "receive": Receive(
        id=example_id(2),
        at=example_time(0),
        site="QM",
        product="MILK",
        supplier="FARM-1",
        reference="D-4711",
        lot=MILK,
        volume_ml=620_000,
        temperature_c=4.0,
        tests=MilkTests(inhibitors="negative"),
    ),
    "make": Make(
        id=example_id(3),
        at=example_time(0, 1),
        site="QM",
        product="BLUE-CURD",
        vat="VAT-1",
        inputs=[Input(lot=MILK, volume_ml=620_000)],
        lot=MAKE,
        heat=Heat(treatment="pasteurised", temperature_c=72.0, hold_s=15),
        ended_at=example_time(0, 6),
    ),
    "hoop": Hoop(
        id=example_id(4),
        at=example_time(0, 6),
        site="QM",
        make=MAKE,
        product="QUILLMERE-BLUE",
        wheels=[NewWheel(mass_g=11_000, lot=WHEEL)],
        room="HOOPING",
        finished=False,
    ),
    "move": Move(id=example_id(5, 6), at=example_time(6), site="QM", lots=[WHEEL], room="RIPE-1"),
    "tend": Tend(
        id=example_id(6, 35),
        at=example_time(35),
        site="QM",
        task="pierce",
        lots=[WHEEL],
        tool="NEEDLES-1",
        holes=120,
    ),
    "iron": Iron(
        id=example_id(7, 63),
        at=example_time(63),
        site="QM",
        lot=WHEEL,
        tool="IRON-1",
        blueing=80,
        grade="first",
        plug_g=4,
    ),
    "weigh": Weigh(
        id=example_id(8, 69), at=example_time(69), site="QM", lot=WHEEL, mass_g=2 * _HALF_G
    ),
    "cut": Cut(
        id=example_id(9, 70),
        at=example_time(70),
        site="QM",
        lot=WHEEL,
        pieces=[
            Piece(
                product="QUILLMERE-BLUE-HALF",
                mass_g=_HALF_G,
                lot=PORTION,
                place=Place(from_deg=0, to_deg=360, layer="upper"),
            ),
            Piece(product="TRIM", mass_g=320, lot=TRIM),
        ],
        tool="WIRE-1",
    ),
    "blend": Blend(
        id=example_id(10, 71),
        at=example_time(71),
        site="QM",
        inputs=[Input(lot=TRIM, mass_g=320)],
        outputs=[NewLot(product="CRUMBLE", mass_g=315, lot=BLEND)],
    ),
    "pack": Pack(
        id=example_id(11, 71),
        at=example_time(71, 1),
        site="QM",
        case=CASE,
        lots=[Packed(lot=PORTION, count=1, mass_g=_HALF_G)],
    ),
    "unpack": Unpack(id=example_id(12, 71), at=example_time(71, 2), site="QM", case=CASE),
    "dispatch": Dispatch(
        id=example_id(13, 72),
        at=example_time(72),
        site="QM",
        to="SHOP-7",
        lines=[Line(lot=PORTION)],
        document=Document(number="DN-1001"),
        temperature_c=3.5,
    ),
    "arrive": Arrive(
        id=example_id(14, 75),
        at=example_time(75),
        site="QM",
        returned_by="SHOP-7",
        lines=[Line(lot=PORTION, mass_g=_HALF_G)],
    ),
    "sample": Sample(
        id=example_id(15, 64),
        at=example_time(64),
        site="QM",
        lot=WHEEL,
        reference="S-2025-031",
        mass_g=100,
        purpose="Listeria monocytogenes",
        laboratory="LAB-1",
    ),
    "result": Result(
        id=example_id(16, 68),
        at=example_time(68),
        site="QM",
        sample="S-2025-031",
        test="Listeria monocytogenes in 25 g",
        verdict="passed",
        value="not detected",
    ),
    "hold": Hold(
        id=example_id(17, 65),
        at=example_time(65),
        site="QM",
        lots=[WHEEL],
        reason="Until the laboratory has answered",
    ),
    "release": Release(
        id=example_id(18, 68),
        at=example_time(68, 1),
        site="QM",
        lots=[WHEEL],
        reason="The laboratory found nothing",
    ),
    "discard": Discard(
        id=example_id(19, 76),
        at=example_time(76),
        site="QM",
        lots=[Discarded(lot=PORTION)],
        reason="Came back warm",
        method="rendered",
    ),
    "clean": Clean(
        id=example_id(20, 70), at=example_time(70, 2), site="QM", tool="WIRE-1", method="hot wash"
    ),
    "settle": Settle(
        id=example_id(21, 77),
        at=example_time(77),
        site="QM",
        discrepancy="0123456789abcdef01234567",
        finding="The scale had not been set to zero; weighed again.",
    ),
    "label": Label(
        id=example_id(24, 75),
        at=example_time(75, 1),
        site="QM",
        kind="portion",
        lot=PORTION,
        reason="The first label came off in the cold room",
    ),
    "correct": Correct(
        id=example_id(22, 70),
        at=example_time(70, 3),
        site="QM",
        event=example_id(8, 69),
        reason="Another wheel was on the scale",
        replacement=Weigh(
            id=example_id(23, 69), at=example_time(69), site="QM", lot=WHEEL, mass_g=7_900
        ),
    ),
}
"""By the event's ``type``."""
