"""The cutting room: wheels into halves, eighths and wedges."""

from collections.abc import Sequence
from typing import Literal

from rindline_schema.events import Cut, Place
from rindline_schema.events import Piece as CutPiece
from rindline_server.calc.apportion import apportion
from rindline_server.demo.dates import at
from rindline_server.demo.journal import Journal
from rindline_server.demo.registers import CUTTING
from rindline_server.demo.scale import Scale
from rindline_server.demo.things import Piece, Stock, Wheel

__all__ = ["Cutting"]

# Common practice, no source: a tall wheel is halved across, then cut from top to base; wedges of
# 150 to 250 g. Of a heavier wheel 48 are cut, else 40.
_HEAVY_G = 10_950

Layer = Literal["whole", "upper", "lower"]


def _places(step_deg: int, layers: Sequence[Layer]) -> list[Place]:
    return [
        Place(from_deg=start, to_deg=start + step_deg, layer=layer)
        for layer in layers
        for start in range(0, 360, step_deg)
    ]


class Cutting:
    """One day after the other in the cutting room."""

    def __init__(self, journal: Journal, scale: Scale, stock: Stock) -> None:
        """Start with what lies in stock."""
        self._journal = journal
        self._scale = scale
        self._stock = stock
        self._cut_of_make: dict[int, int] = {}
        self._wedged = 0
        self._new: list[Piece] = []

    def tell_day(self, day: int) -> list[Piece]:
        """Cut what there is time for; gives all pieces that were made."""
        self._new = []
        minute = 0
        for wheel, left_g in self._stock.begun:
            self._wedges(wheel, day, minute, ("lower",), left_g)
            minute += 12
        self._stock.begun = []
        for _ in range(min(self._scale.cut_a_day, len(self._stock.wheels))):
            if self._cut(self._stock.wheels.pop(0), day, minute):
                minute += 12
        return self._new

    def _cut(self, wheel: Wheel, day: int, minute: int) -> bool:
        """Cut a wheel as its turn has it; gives False if it stays whole."""
        turn = self._cut_of_make.get(wheel.make, 0)
        self._cut_of_make[wheel.make] = turn + 1
        scale = self._scale
        if turn < scale.sold_whole:
            self._stock.whole.append(wheel)
            return False
        turn -= scale.sold_whole
        if turn < scale.halved:
            self._large(wheel, day, minute, "QB-HALF", _places(180, ("whole",)))
        elif turn < scale.halved + scale.quartered:
            self._large(wheel, day, minute, "QB-EIGHTH", _places(90, ("upper", "lower")))
        else:
            self._wedged += 1
            # Now and then half a wheel is left for the next day.
            half = self._wedged % 12 == 3
            self._wedges(wheel, day, minute, ("upper",) if half else ("upper", "lower"))
        return True

    def _large(
        self, wheel: Wheel, day: int, minute: int, product: str, places: list[Place]
    ) -> None:
        pieces = self._tell_cut(wheel, day, minute, product, places, "QC-WIRE")
        self._stock.larger += [piece for piece in pieces if piece.product == product]

    def _wedges(
        self,
        wheel: Wheel,
        day: int,
        minute: int,
        layers: Sequence[Layer],
        left_g: int | None = None,
    ) -> None:
        """Cut a wheel, or its upper or lower half, into 40 or 48 wedges a wheel."""
        places = _places(18 if wheel.fresh_g < _HEAVY_G else 15, layers)
        pieces = self._tell_cut(wheel, day, minute, "QB-WEDGE", places, "QC-CUTTER", left_g)
        self._stock.wedges += [piece for piece in pieces if piece.product == "QB-WEDGE"]

    def _tell_cut(
        self,
        wheel: Wheel,
        day: int,
        minute: int,
        product: str,
        places: list[Place],
        tool: str,
        left_g: int | None = None,
    ) -> list[Piece]:
        dice = self._journal.dice
        moment = at(day, 8, minute)
        begun = len(places) > 2 and {place.layer for place in places} == {"upper"}
        weighed_g = (wheel.mass_g(moment) if left_g is None else left_g) - dice.between(0, 3)
        used_g = weighed_g // 2 if begun else weighed_g
        trim_g = used_g * dice.between(20, 35) // 1000
        loss_g = used_g * dice.between(1, 3) // 1000
        weights = [int(dice.spread(1000, 60)) for _ in places]
        masses = apportion(used_g - trim_g - loss_g, weights)
        # Each piece is weighed by itself, so they do not add up to the gram.
        masses = [mass_g + dice.between(0, 2) - 1 for mass_g in masses]
        pieces = [
            Piece(self._journal.new_lot(CUTTING, moment, "portion"), product, mass_g, wheel.make)
            for mass_g in masses
        ]
        trim = Piece(self._journal.new_lot(CUTTING, moment, "trim"), "QB-TRIM", trim_g, wheel.make)
        self._journal.add(
            Cut(
                id=self._journal.new_id(moment),
                at=moment,
                site=CUTTING,
                lot=wheel.lot,
                pieces=[
                    *(
                        CutPiece(product=product, mass_g=piece.mass_g, lot=piece.lot, place=place)
                        for piece, place in zip(pieces, places, strict=True)
                    ),
                    CutPiece(product=trim.product, mass_g=trim.mass_g, lot=trim.lot),
                ],
                tool=tool,
                room="QC-CUT",
                weighed_g=weighed_g,
                loss_g=loss_g,
                finished=not begun,
            )
        )
        if begun:
            left = weighed_g - sum(masses) - trim_g - loss_g
            self._stock.begun.append((wheel, left))
        self._stock.trim.append(trim)
        self._new += [*pieces, trim]
        return [*pieces, trim]

    def recut(self, day: int, count: int) -> None:
        """Cut some eighths smaller, for an order of wedges."""
        eighths = [piece for piece in self._stock.larger if piece.product == "QB-EIGHTH"]
        for i, eighth in enumerate(eighths[:count]):
            moment = at(day, 7, 20 + i * 4)
            self._stock.larger.remove(eighth)
            masses = apportion(eighth.mass_g - 4, [1, 1, 1, 1, 1])
            wedges = [
                Piece(self._journal.new_lot(CUTTING, moment, "portion"), "QB-WEDGE", g, eighth.make)
                for g in masses
            ]
            self._journal.add(
                Cut(
                    id=self._journal.new_id(moment),
                    at=moment,
                    site=CUTTING,
                    lot=eighth.lot,
                    pieces=[
                        CutPiece(product=w.product, mass_g=w.mass_g, lot=w.lot) for w in wedges
                    ],
                    tool="QC-WIRE",
                    room="QC-CHILL",
                    loss_g=4,
                    finished=True,
                )
            )
            self._stock.wedges += wedges
