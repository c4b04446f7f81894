"""The things of the story as they are, apart from what is told of them."""

from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise

__all__ = ["Case", "Made", "Milk", "Piece", "Stock", "Wheel"]

# Common practice, no source: of 11 kg of salted curd about 8 kg are left at nine weeks, and most
# of the loss is whey in the first days. Days since hooping, and the share of the mass left.
_LEFT = ((0, 1.0), (6, 0.84), (35, 0.775), (63, 0.727), (84, 0.712), (120, 0.69))


def _share_left(age_days: float) -> float:
    for (from_day, from_share), (to_day, to_share) in pairwise(_LEFT):
        if age_days <= to_day:
            part = (age_days - from_day) / (to_day - from_day)
            return from_share + (to_share - from_share) * part
    return _LEFT[-1][1]


@dataclass
class Milk:
    """A delivery of milk, and what is left of it."""

    lot: str
    left_ml: int


@dataclass
class Wheel:
    """A wheel: its mass when hooped, how fast it dries, what was taken of it."""

    lot: str
    make: int
    hooped_at: datetime
    fresh_g: int
    drying: float
    taken_g: int = 0

    def mass_g(self, moment: datetime) -> int:
        """Give what the wheel weighs at a time."""
        age_days = (moment - self.hooped_at).total_seconds() / 86_400
        lost = (1 - _share_left(age_days)) * self.drying
        return int(self.fresh_g * (1 - lost)) - self.taken_g


@dataclass
class Made:
    """A make and its wheels; ``number`` counts from 1, ``day`` is that of the vat."""

    number: int
    day: int
    lot: str
    site: str
    room: str
    wheels: list[Wheel] = field(default_factory=list)


@dataclass
class Piece:
    """A portion, trim, or tubs of crumble: all of one lot, and where it lies."""

    lot: str
    product: str
    mass_g: int
    make: int
    count: int = 1


@dataclass
class Case:
    """A case of wedges."""

    code: str
    pieces: list[Piece]


@dataclass
class Stock:
    """What lies in the cutting room's site."""

    wheels: list[Wheel] = field(default_factory=list)
    whole: list[Wheel] = field(default_factory=list)
    begun: list[tuple[Wheel, int]] = field(default_factory=list)
    wedges: list[Piece] = field(default_factory=list)
    larger: list[Piece] = field(default_factory=list)
    trim: list[Piece] = field(default_factory=list)
    crumble: list[Piece] = field(default_factory=list)
    cases: list[Case] = field(default_factory=list)
