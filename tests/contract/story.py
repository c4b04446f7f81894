"""The examples of the documentation as one story, with what has to be declared before it."""

from rindline_schema.events import Declare, Event
from rindline_schema.registers import Partner, Product, RegisterEntry, Room, Sensor, Site, Tool
from rindline_server.http.openapi.event_examples import EVENT_EXAMPLES, example_id, example_time

__all__ = ["DECLARATIONS", "STORY"]

_ENTRIES: tuple[RegisterEntry, ...] = (
    Site(code="QM", name="Quillmere dairy"),
    Site(code="QN", name="Quillmere store"),
    Room(code="HOOPING", name="Hooping room", site="QM"),
    Room(code="RIPE-1", name="Ripening room", site="QM"),
    Sensor(code="S-RIPE", name="Ripening room, middle shelf", room="RIPE-1"),
    Tool(code="VAT-1", name="Vat", kind="vat", site="QM"),
    Tool(code="NEEDLES-1", name="Needles", kind="needles", site="QM"),
    Tool(code="IRON-1", name="Cheese iron", kind="cheese_iron", site="QM"),
    Tool(code="WIRE-1", name="Wire", kind="wire", site="QM"),
    Partner(code="FARM-1", name="A farm", roles=["supplier"]),
    Partner(code="LAB-1", name="A laboratory", roles=["laboratory"]),
    Partner(code="SHOP-7", name="A shop", roles=["customer"]),
    Partner(code="SHOP-8", name="Another shop", roles=["customer"]),
    Product(code="MILK", name="Milk", kind="milk"),
    Product(code="BLUE-CURD", name="Curd", kind="make"),
    Product(code="QUILLMERE-BLUE", name="Quillmere Blue", kind="wheel"),
    Product(code="QUILLMERE-BLUE-HALF", name="Quillmere Blue, half", kind="portion"),
    Product(code="TRIM", name="Trim", kind="trim"),
    Product(code="CRUMBLE", name="Crumble", kind="blend"),
)

DECLARATIONS: list[Event] = [
    Declare(id=example_id(100 + number, -2), at=example_time(-2), site="QM", entry=entry)
    for number, entry in enumerate(_ENTRIES)
]
"""What the examples name, declared two days before the first of them."""

STORY: list[Event] = sorted(
    # Settling is left out: nothing in the story contradicts itself.
    (event for kind, event in EVENT_EXAMPLES.items() if kind != "settle"),
    key=lambda event: event.at,
)
"""The examples in the order in which they happened."""
