"""An invented dairy of any size: what it tells, made up as it goes, the same each time.

Each make draws on two deliveries of its day, gives 40 wheels, each cut into 15 portions, of which
three in five are sent to shops. The first makes all draw on one tank, so that its forward trace is
long: 39 makes of 641 lots each and the tank itself are 25,000 lots.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from random import Random
from uuid import UUID

from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.events import (
    Cut,
    Declare,
    Dispatch,
    Document,
    Event,
    Hoop,
    Input,
    Line,
    Make,
    Move,
    NewWheel,
    Piece,
    Receive,
    Tend,
    Weigh,
)
from rindline_schema.registers import Partner, Product, RegisterEntry, Room, Site, Tool
from rindline_schema.uuid7 import uuid7

__all__ = ["LOTS_A_MAKE", "Story"]

_SITE = "QM"
_SHOPS = 15
_WHEELS = 40
_PORTIONS = 15
_MAKES_A_DAY = 4
_MAKES_A_CULTURE = 80
_WHEEL_G = 2500
_MAKE_G = 500_000
LOTS_A_MAKE = 1 + _WHEELS + _WHEELS * _PORTIONS
"""The make itself, its wheels and their portions; deliveries come on top."""

_START = datetime(2024, 1, 1, 6, tzinfo=UTC)
_RIPENING = timedelta(days=60)

_ENTRIES: tuple[RegisterEntry, ...] = (
    Site(code=_SITE, name="Quillmere dairy"),
    Room(code="VATS", name="Vats", site=_SITE),
    Room(code="RIPE-1", name="Ripening room 1", site=_SITE),
    Room(code="RIPE-2", name="Ripening room 2", site=_SITE),
    Room(code="COLD", name="Cold room", site=_SITE),
    Tool(code="VAT-1", name="Vat 1", kind="vat", site=_SITE),
    Tool(code="WIRE-1", name="Wire 1", kind="wire", site=_SITE),
    Partner(code="HERD-A", name="Herd A", roles=["supplier"]),
    Partner(code="HERD-B", name="Herd B", roles=["supplier"]),
    Partner(code="CULTURES", name="Culture maker", roles=["supplier"]),
    Product(code="MILK", name="Cow's milk", kind="milk"),
    Product(code="CULTURE", name="Starter", kind="ingredient"),
    Product(code="CURD", name="Curd of Quillmere Blue", kind="make"),
    Product(code="WHEEL", name="Quillmere Blue, wheel", kind="wheel"),
    Product(code="WEDGE", name="Quillmere Blue, wedge", kind="portion"),
    *(
        Partner(code=f"SHOP-{number:02}", name=f"Shop {number}", roles=["customer"])
        for number in range(_SHOPS)
    ),
)


class Story:
    """Tells the dairy's events in order; ``lots`` counts those made so far.

    ``tank`` is the code of the delivery the first ``tank_makes`` makes draw on.
    """

    def __init__(self, tank_makes: int) -> None:
        self.lots = 0
        self.tank = ""
        self._tank_makes = tank_makes
        self._makes = 0
        self._serials: dict[str, int] = {}
        self._random = Random("a dairy that never was")
        self._deliveries: tuple[str, str] = ("", "")
        self._milk_lasts = 0
        self._culture = ""
        self._culture_lasts = 0

    def opening(self) -> list[Event]:
        """Declare what the events name, and take in the tank."""
        events: list[Event] = [
            Declare(id=self._id(_START), at=_START, site=_SITE, entry=entry) for entry in _ENTRIES
        ]
        tank_g = _MAKE_G * self._tank_makes
        self.tank, event = self._receive("milk", "HERD-B", _START, tank_g)
        return [*events, event]

    def makes(self) -> Iterator[tuple[list[Event], list[str]]]:
        """Tell make after make, each from its milk to the shops, with its portions; never ends."""
        while True:
            day = self._day()
            events = self._milk_in(day)
            wheels = self._vat(day, events)
            self._ripen(day, wheels, events)
            portions = self._cut(day + _RIPENING, wheels, events)
            self._send(day + _RIPENING + timedelta(hours=4), portions, events)
            yield events, portions

    def shelf(self, wheels: int) -> tuple[list[str], list[Event]]:
        """Tell of makes whose wheels still ripen, from milk of their own; gives the wheels."""
        day = self._day()
        self._milk_lasts = self._culture_lasts = 0
        events = self._milk_in(day, -(-wheels // _WHEELS))
        codes: list[str] = []
        while len(codes) < wheels:
            codes += self._vat(day, events)
        self._milk_lasts = self._culture_lasts = 0
        return codes[:wheels], events

    def tend(self, wheels: list[str], events: int) -> list[Event]:
        """Tell so many small events about ripening wheels, one wheel after the other, in rounds.

        Of ten: four weighings, two moves, two turnings and two cuts of two pieces.
        """
        day = self._day() + timedelta(weeks=2)
        left_g = dict.fromkeys(wheels, _WHEEL_G)
        told: list[Event] = []
        for number in range(events):
            lot = wheels[number % len(wheels)]
            turn = number // len(wheels) + number % 10
            at = day + timedelta(seconds=number)
            told.append(self._small_event(lot, turn % 10, at, left_g))
        return told

    def _small_event(self, lot: str, kind: int, at: datetime, left_g: dict[str, int]) -> Event:
        event_id = self._id(at)
        if kind in (1, 6):
            room = "RIPE-2" if kind == 1 else "RIPE-1"
            return Move(id=event_id, at=at, site=_SITE, lots=[lot], room=room)
        if kind in (3, 8):
            return Tend(id=event_id, at=at, site=_SITE, task="turn", lots=[lot])
        if kind in (4, 9):
            left_g[lot] -= 200
            pieces = [Piece(product="WEDGE", mass_g=100), Piece(product="WEDGE", mass_g=100)]
            return Cut(id=event_id, at=at, site=_SITE, lot=lot, pieces=pieces, tool="WIRE-1")
        left_g[lot] -= 1
        return Weigh(id=event_id, at=at, site=_SITE, lot=lot, mass_g=left_g[lot])

    # --- the parts of a make ------------------------------------------------------------------

    def _day(self) -> datetime:
        return _START + timedelta(days=self._makes // _MAKES_A_DAY, hours=1)

    def _id(self, at: datetime) -> UUID:
        return uuid7(int(at.timestamp() * 1000), self._random.randbytes(10))

    def _code(self, kind: str, at: datetime) -> str:
        prefix = lot_code_prefix(_SITE, at.date(), kind)
        code = None
        while code is None:
            serial = self._serials[prefix] = self._serials.get(prefix, 0) + 1
            code = lot_code(prefix, serial)
        self.lots += 1
        return code

    def _receive(self, kind: str, supplier: str, at: datetime, mass_g: int) -> tuple[str, Event]:
        lot = self._code(kind, at)
        product = "MILK" if kind == "milk" else "CULTURE"
        event = Receive(
            id=self._id(at),
            at=at,
            site=_SITE,
            product=product,
            supplier=supplier,
            lot=lot,
            mass_g=mass_g,
        )
        return lot, event

    def _milk_in(self, day: datetime, makes: int = _MAKES_A_DAY) -> list[Event]:
        """Take in milk for so many makes, and a culture, where none is left."""
        events: list[Event] = []
        if self._culture_lasts == 0:
            self._culture, event = self._receive("ingredient", "CULTURES", day, 1_000_000)
            self._culture_lasts = _MAKES_A_CULTURE
            events.append(event)
        if self._milk_lasts == 0:
            first, came = self._receive("milk", "HERD-A", day, _MAKE_G * makes)
            second, came_too = self._receive("milk", "HERD-B", day, _MAKE_G * makes)
            self._deliveries = first, second
            self._milk_lasts = makes
            events += [came, came_too]
        return events

    def _vat(self, day: datetime, events: list[Event]) -> list[str]:
        """Make and hoop; gives the wheels."""
        first, second = self._deliveries
        if self._makes < self._tank_makes:
            second = self.tank
        at = day + timedelta(hours=1, minutes=self._makes % _MAKES_A_DAY * 20)
        make = self._code("make", at)
        wheels = [self._code("wheel", at) for _ in range(_WHEELS)]
        inputs = [
            Input(lot=first, mass_g=_MAKE_G),
            Input(lot=second, mass_g=_MAKE_G),
            Input(lot=self._culture, mass_g=500),
        ]
        events += [
            Make(
                id=self._id(at),
                at=at,
                site=_SITE,
                product="CURD",
                vat="VAT-1",
                lot=make,
                inputs=inputs,
                room="VATS",
            ),
            Hoop(
                id=self._id(at),
                at=at + timedelta(hours=4),
                site=_SITE,
                make=make,
                product="WHEEL",
                wheels=[NewWheel(lot=wheel, mass_g=_WHEEL_G) for wheel in wheels],
                room="RIPE-1",
                finished=True,
            ),
        ]
        self._makes += 1
        self._milk_lasts -= 1
        self._culture_lasts -= 1
        return wheels

    def _ripen(self, day: datetime, wheels: list[str], events: list[Event]) -> None:
        for week in range(1, 4):
            at = day + timedelta(weeks=week)
            events.append(Tend(id=self._id(at), at=at, site=_SITE, task="turn", lots=wheels))

    def _cut(self, at: datetime, wheels: list[str], events: list[Event]) -> list[str]:
        """Cut every wheel; gives the portions."""
        portions: list[str] = []
        for wheel in wheels:
            codes = [self._code("portion", at) for _ in range(_PORTIONS)]
            event = Cut(
                id=self._id(at),
                at=at,
                site=_SITE,
                lot=wheel,
                weighed_g=2300,
                pieces=[Piece(product="WEDGE", lot=code, mass_g=150) for code in codes],
                loss_g=20,
                finished=True,
                tool="WIRE-1",
                room="COLD",
            )
            events.append(event)
            portions += codes
        return portions

    def _send(self, at: datetime, portions: list[str], events: list[Event]) -> None:
        """Send three in five of the portions, sixty to a shop."""
        for start in range(0, len(portions) * 3 // 5, 60):
            shop = self._random.randrange(_SHOPS)
            event = Dispatch(
                id=self._id(at),
                at=at,
                site=_SITE,
                lines=[Line(lot=lot) for lot in portions[start : start + 60]],
                document=Document(number=f"DN-{self._makes:05}-{start // 60}"),
                to=f"SHOP-{shop:02}",
            )
            events.append(event)
