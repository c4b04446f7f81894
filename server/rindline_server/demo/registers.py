"""The business and everybody it deals with. All of it is invented."""

from msgspec.structs import replace

from rindline_schema.gs1 import gs1_check_digit
from rindline_schema.registers import (
    LotKind,
    Partner,
    Product,
    RegisterEntry,
    Room,
    Sensor,
    Site,
    Tool,
)

__all__ = [
    "COMPANY_PREFIX",
    "CUTTING",
    "DAIRY",
    "ENTRIES",
    "HERDS",
    "SHOPS",
    "STORE",
    "WHOLESALE",
]

# GS1 keeps the prefix 952 for examples, so no real company's numbers begin with it
# (gs1.org, style guide, "GS1 prefix 952 for examples").
COMPANY_PREFIX = "9529001"

DAIRY, STORE, CUTTING = "QM", "QS", "QC"


def _gtin13(reference: int) -> str:
    body = f"{COMPANY_PREFIX}{reference:05d}"
    return body + gs1_check_digit(body)


def _catch_weight_gtin(reference: int) -> str:
    # GS1 General Specifications: a GTIN-14 that begins with 9 is of variable measure.
    body = "9" + _gtin13(reference)[:-1]
    return body + gs1_check_digit(body)


_SITES = (
    (DAIRY, "Quillmere Dairy", "1 Vatlane, Quillmere", "XQ 0101"),
    (STORE, "Quillmere Ripening Store", "The Old Icehouse, Fennacre Rise", "XQ 0102"),
    (CUTTING, "Quillmere Cutting Room", "Unit 4, Tarrowgate Yard, Quillmere", "XQ 0103"),
)

_ROOMS = (
    Room(code="QM-MILK", name="Milk tanks", site=DAIRY, least_c=1, most_c=6),
    Room(code="QM-DRY", name="Ingredient store", site=DAIRY),
    Room(code="QM-VAT", name="Vat room", site=DAIRY),
    Room(
        code="QM-HOOP",
        name="Hooping room",
        site=DAIRY,
        least_c=18,
        most_c=22,
    ),
    Room(
        code="QM-R1",
        name="First ripening room",
        site=DAIRY,
        least_c=10,
        most_c=14,
        least_humidity_pct=85,
        most_humidity_pct=95,
    ),
    Room(
        code="QM-R2",
        name="Second ripening room",
        site=DAIRY,
        least_c=10,
        most_c=14,
        least_humidity_pct=85,
        most_humidity_pct=95,
    ),
    Room(
        code="QS-NORTH",
        name="North vault",
        site=STORE,
        least_c=10,
        most_c=14,
        least_humidity_pct=85,
        most_humidity_pct=95,
    ),
    Room(
        code="QS-SOUTH",
        name="South vault",
        site=STORE,
        least_c=10,
        most_c=14,
        least_humidity_pct=85,
        most_humidity_pct=95,
    ),
    Room(code="QC-WHEELS", name="Wheels to be cut", site=CUTTING, least_c=4, most_c=8),
    Room(code="QC-CUT", name="Cutting and packing", site=CUTTING, least_c=8, most_c=12),
    Room(code="QC-CHILL", name="Cold room", site=CUTTING, least_c=2, most_c=5),
)

_SENSORS = (
    ("S-MILK", "Milk tanks, under the roof", "QM-MILK"),
    ("S-DRY", "Ingredient store, top shelf", "QM-DRY"),
    ("S-VAT", "Vat room, by the window", "QM-VAT"),
    ("S-HOOP", "Hooping room, by the door", "QM-HOOP"),
    ("S-R1", "First ripening room, middle shelf", "QM-R1"),
    ("S-R2", "Second ripening room, middle shelf", "QM-R2"),
    ("S-NORTH", "North vault, far end", "QS-NORTH"),
    ("S-SOUTH", "South vault, far end", "QS-SOUTH"),
    ("S-WHEELS", "Wheels to be cut, at the hatch", "QC-WHEELS"),
    ("S-CUT", "Cutting and packing, over the table", "QC-CUT"),
    ("S-CHILL", "Cold room, at the fan", "QC-CHILL"),
)

_TOOLS = (
    Tool(code="QM-VAT1", name="Vat 1", kind="vat", site=DAIRY),
    Tool(code="QM-VAT2", name="Vat 2", kind="vat", site=DAIRY),
    Tool(code="QM-NEEDLES", name="Piercing needles", kind="needles", site=DAIRY),
    Tool(code="QM-IRON", name="Cheese iron", kind="cheese_iron", site=DAIRY),
    Tool(code="QM-BRUSH", name="Coat brush", kind="brush", site=DAIRY),
    Tool(code="QM-SCALE", name="Wheel scale", kind="other", site=DAIRY),
    Tool(code="QS-NEEDLES", name="Piercing needles", kind="needles", site=STORE),
    Tool(code="QS-IRON", name="Cheese iron", kind="cheese_iron", site=STORE),
    Tool(code="QS-BRUSH", name="Coat brush", kind="brush", site=STORE),
    Tool(code="QS-SCALE", name="Wheel scale", kind="other", site=STORE),
    Tool(code="QC-CUTTER", name="Wedge cutter", kind="cutting_machine", site=CUTTING),
    Tool(code="QC-WIRE", name="Cheese wire", kind="wire", site=CUTTING),
    Tool(code="QC-CRUMBLER", name="Crumbling drum", kind="other", site=CUTTING),
)

HERDS = ("VENNABY", "TOLMARRICK", "ASHQUILL")
"""The farms, the largest herd first."""

_SUPPLIERS = (
    ("VENNABY", "Vennaby Farm", "Vennaby, by Quillmere"),
    ("TOLMARRICK", "Tolmarrick Farm", "Tolmarrick Hill"),
    ("ASHQUILL", "Little Ashquill Farm", "Ashquill Bottom"),
    ("VELMORRA", "Velmorra Cultures", "12 Flaskergate, Velmorra"),
    ("TESSERMARK", "Tessermark Rennet Works", "Tessermark Quay"),
    ("HALLOWBRINE", "Hallowbrine Salt Pans", "Hallowbrine Sands"),
)

SHOPS = (
    ("PENNERWICK", "Pennerwick Cheese Counter", "3 Bellweather Row, Pennerwick", 4),
    ("OATENSHELF", "The Oaten Shelf", "18 Marrowgate, Tarrowby", 3),
    ("COPPERHATCH", "Copperhatch Larder", "Copperhatch Square", 2),
    ("SALTMARROW", "Saltmarrow Delicatessen", "7 Ropewalk, Saltmarrow", 3),
    ("THISTLEFOLD", "Thistlefold Farm Shop", "Thistlefold Crossing", 1),
    ("HARROWFEN", "Harrowfen Grocers", "44 Long Harrowfen", 2),
    ("BLUELANTERN", "Blue Lantern Provisions", "9 Lanternyard, Tarrowby", 3),
    ("MILLHATCH", "Millhatch Market Stall", "Stall 21, Millhatch", 1),
    ("DUNNOCKBRIG", "Dunnockbrig Stores", "Dunnockbrig", 2),
    ("QUARRELWICK", "Quarrelwick Kitchen", "2 Quarrelwick Steps", 1),
    ("EVENMARSH", "Evenmarsh Village Store", "The Green, Evenmarsh", 1),
    ("LARKHOLLOW", "Larkhollow Inn", "Larkhollow", 1),
    ("WICKENBARROW", "Wickenbarrow Cheesemonger", "61 Highmarket, Wickenbarrow", 4),
    ("OTTERFOLD", "Otterfold Fine Foods", "5 Otterfold Parade", 3),
    ("FALLOWGATE", "Fallowgate Wholesale", "Depot 2, Fallowgate", 8),
)
"""Each customer's code, name, address, and size against the others."""

WHOLESALE = "FALLOWGATE"

_WEDGE = Product(
    code="QB-WEDGE",
    name="Quillmere Blue, wedge",
    kind="portion",
    gtin=_catch_weight_gtin(4),
    shelf_life_days=35,
    milk_treatment="pasteurised",
    milk_from="cows",
    allergens=["milk"],
    storage="Keep refrigerated at 2 to 8 °C.",
    label_name="Blue cheese made from pasteurised cows' milk",
)


def _sold(code: str, name: str, reference: int, kind: LotKind, shelf_life_days: int) -> Product:
    """Describe what a customer buys by the weight of the piece."""
    return replace(
        _WEDGE,
        code=code,
        name=name,
        kind=kind,
        gtin=_catch_weight_gtin(reference),
        shelf_life_days=shelf_life_days,
    )


_PRODUCTS = (
    Product(code="COW-MILK", name="Raw cows' milk", kind="milk", milk_from="cows"),
    Product(code="STARTER", name="Mesophilic starter, freeze-dried", kind="ingredient"),
    Product(code="BLUE-SPORES", name="Blue mould spores", kind="ingredient"),
    Product(code="RENNET", name="Rennet", kind="ingredient"),
    Product(code="SALT", name="Cheese salt", kind="ingredient"),
    Product(code="QB-MAKE", name="Quillmere Blue, a vat", kind="make"),
    _sold("QB-WHEEL", "Quillmere Blue, whole", 1, "wheel", 70),
    _sold("QB-HALF", "Quillmere Blue, half", 2, "portion", 42),
    _sold("QB-EIGHTH", "Quillmere Blue, eighth", 3, "portion", 42),
    _WEDGE,
    Product(code="QB-TRIM", name="Trim of Quillmere Blue", kind="trim", allergens=["milk"]),
    replace(
        _WEDGE,
        code="QB-CRUMBLE",
        name="Quillmere Blue, crumbled, 150 g",
        kind="blend",
        weight="fixed",
        net_mass_g=150,
        gtin=_gtin13(5),
        shelf_life_days=28,
    ),
)


def _entries() -> list[RegisterEntry]:
    sites = [
        Site(code=code, name=name, address=address, approval_number=mark, gln=_gtin13(90000 + i))
        for i, (code, name, address, mark) in enumerate(_SITES)
    ]
    sensors = [Sensor(code=code, name=name, room=room) for code, name, room in _SENSORS]
    suppliers = [
        Partner(code=code, name=name, address=address, roles=["supplier"])
        for code, name, address in _SUPPLIERS
    ]
    shops = [
        Partner(code=code, name=name, address=address, roles=["customer"], gln=_gtin13(91000 + i))
        for i, (code, name, address, _) in enumerate(SHOPS)
    ]
    others = [
        Partner(
            code="ILVERMARSH",
            name="Ilvermarsh Food Laboratory",
            address="Ilvermarsh",
            roles=["laboratory"],
        ),
        Partner(
            code="WENDLEMOOR",
            name="Wendlemoor Chilled Haulage",
            address="Wendlemoor Junction",
            roles=["carrier"],
        ),
    ]
    return [*sites, *_ROOMS, *sensors, *_TOOLS, *suppliers, *shops, *others, *_PRODUCTS]


ENTRIES: tuple[RegisterEntry, ...] = tuple(_entries())
"""Every register entry, in an order in which each rests only on those before it."""
