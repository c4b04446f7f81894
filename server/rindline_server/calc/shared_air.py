"""The air of a room for many stays at once, by sums that run on from hour to hour.

The wheels of a room share its air. Its hours are added up once; what a stay had is the difference
of two sums, at two look-ups a stay instead of all its hours. An hour that a stay begins or ends in
counts by its part, as if its air had been the same throughout (the figures of a single lot's
conditions cut such hours by their readings).
"""

from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate
from operator import add
from typing import NamedTuple

from rindline_server.calc.air import Tally

__all__ = ["NO_AIR", "AirSums", "RunningAir"]

_FIELDS = (
    "c_us",
    "humidity_us",
    "both_us",
    "area_c_h",
    "area_pct_h",
    "deficit_kpa_h",
    "too_cold_us",
    "too_warm_us",
    "too_dry_us",
    "too_damp_us",
)
_PLACES = tuple(Tally._fields.index(name) for name in _FIELDS)


class AirSums(NamedTuple):
    """Sums over a time, as in :class:`Tally`; parts of hours make them fractions."""

    c_us: float
    humidity_us: float
    both_us: float
    area_c_h: float
    area_pct_h: float
    deficit_kpa_h: float
    too_cold_us: float
    too_warm_us: float
    too_dry_us: float
    too_damp_us: float

    def plus(self, other: "AirSums") -> "AirSums":
        """Add two up."""
        return AirSums._make(map(add, self, other))


NO_AIR = AirSums(*[0.0] * len(_FIELDS))
"""The sums of a time in which nothing was observed."""


class RunningAir:
    """The running sums of one room."""

    def __init__(self, hours: Sequence[tuple[int, int, Tally]]) -> None:
        """Take the hours with something observed: (from, until, tally), in order."""
        self._starts = [begin for begin, _, _ in hours]
        self._ends = [end for _, end, _ in hours]
        picked = [[tally[place] for place in _PLACES] for _, _, tally in hours]
        columns = [list(accumulate(column, initial=0.0)) for column in zip(*picked, strict=True)]
        self._until: list[tuple[float, ...]] = list(zip(*columns, strict=True))
        self._known: dict[int, AirSums] = {}

    def over(self, from_us: int, until_us: int) -> AirSums:
        """Give the sums from one time until another."""
        first, last = self._sums_at(from_us), self._sums_at(until_us)
        return AirSums._make([b - a for a, b in zip(first, last, strict=True)])

    def _sums_at(self, at_us: int) -> AirSums:
        found = self._known.get(at_us)
        if found is None:
            found = self._known[at_us] = self._worked_out(at_us)
        return found

    def _worked_out(self, at_us: int) -> AirSums:
        place = bisect_right(self._starts, at_us) - 1
        if place < 0:
            return NO_AIR
        begin, end = self._starts[place], self._ends[place]
        share = min(1.0, (at_us - begin) / (end - begin))
        before, after = self._until[place], self._until[place + 1]
        return AirSums._make([a + (b - a) * share for a, b in zip(before, after, strict=True)])
