"""How much a measure differs between two sides, and how sure that is, where values have kin.

The wheels of a make came of one vat and lay side by side: they say less than as many strangers.
So all uncertainty here is that between makes. One critical value gives both intervals:

- Cliff's delta: how much likelier a value of the one side is above one of the other than below,
  from -1 to 1. As twice the probability less one it is a rank statistic of clustered data
  (Obuchowski 1997, "Nonparametric analysis of clustered ROC curve data"; from memory).
- Its standard error where there is no difference: a jackknife that leaves out one make after the
  other, with the sides laid upon one another first; or as they are, whichever is larger.
- The critical value: that error times Student's t, with degrees of freedom by the makes, not the
  wheels, after Satterthwaite: uneven makes, and a side whose makes differ more, count for fewer.
  The share of errors allowed is divided by the number of measures looked at (Bonferroni), so that
  all intervals hold together.
- A side's makes can be told apart from the other's in only so many ways. If even complete
  separation would come about by chance too often, nothing is clear.
- The interval of delta is Wilson's, which stays within -1 and 1 and does not collapse at them;
  that of the shift (Hodges and Lehmann) holds every shift which the critical value doesn't rule
  out. Both leave out 0 together.
"""

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from math import ceil, comb, sqrt
from typing import NamedTuple

from rindline_server.calc.pair_differences import PairDifferences
from rindline_server.calc.student import student_quantile

__all__ = ["ALLOWED", "Effect", "Measured", "compare"]

ALLOWED = 0.05
"""How often, at most, any of the intervals of one comparison may miss."""

_STEPS = 1_000_000
"""Values are compared in steps of a millionth of their unit, so that equal ones are equal."""


class Measured(NamedTuple):
    """A value of one wheel, and the make it is of."""

    value: float
    make: str


class Effect(NamedTuple):
    """The difference of one side from the other; a shift without a bound has None there.

    ``is_clear``: both intervals leave out 0.
    """

    effect: float
    low_effect: float
    high_effect: float
    shift: float
    low_shift: float | None
    high_shift: float | None

    @property
    def is_clear(self) -> bool:
        """Whether both intervals lie on one side of 0."""
        if self.low_shift is None or self.high_shift is None:
            return False
        above = self.low_effect > 0 and self.low_shift > 0
        return above or (self.high_effect < 0 and self.high_shift < 0)


_Sides = tuple[Sequence[int], Sequence[str], Sequence[int], Sequence[str]]


def compare(one: Sequence[Measured], other: Sequence[Measured], measures: int) -> Effect:
    """Compare two sides, neither empty; ``measures`` are looked at together.

    Positive means that ``one`` has the higher values.
    """
    xs, x_makes = [round(m.value * _STEPS) for m in one], [m.make for m in one]
    ys, y_makes = [round(m.value * _STEPS) for m in other], [m.make for m in other]
    pairs = PairDifferences(xs, ys)
    twice_shift = pairs.twice_median()
    aligned = ([2 * x - twice_shift for x in xs], x_makes, [2 * y for y in ys], y_makes)
    effect, as_it_is = _delta((xs, x_makes, ys, y_makes))
    _, at_no_difference = _delta(aligned)
    tail = ALLOWED / (2 * measures)
    critical = max(error.reach(tail) for error in (as_it_is, at_no_difference))
    sides = set(x_makes), set(y_makes)
    if min(map(len, sides)) < 2 or 1 / _ways_to_part(*sides) > tail:
        critical = max(critical, 1.0)
    low, high = _wilson(effect, critical)
    low_shift, high_shift = _shifts(pairs, critical)
    return Effect(
        effect=effect,
        low_effect=low,
        high_effect=high,
        shift=twice_shift / 2 / _STEPS,
        low_shift=low_shift,
        high_shift=high_shift,
    )


def _wilson(effect: float, critical: float) -> tuple[float, float]:
    """Give all deltas that lie no further from ``effect`` than critical * sqrt(1 - delta^2)."""
    square = critical * critical
    reach = critical * sqrt(max(0.0, 1 + square - effect * effect))
    return max(-1.0, (effect - reach) / (1 + square)), min(1.0, (effect + reach) / (1 + square))


def _shifts(pairs: PairDifferences, critical: float) -> tuple[float | None, float | None]:
    """Give the smallest and largest shift after which delta is no more than ``critical``."""
    if critical >= 1:
        return None, None
    place = max(1, ceil((pairs.count * (1 - critical) + 1) / 2 - 1e-9))
    return pairs.nth(place) / _STEPS, pairs.nth(pairs.count + 1 - place) / _STEPS


def _ways_to_part(one: set[str], other: set[str]) -> int:
    """Count in how many ways makes could have fallen to the sides; those on both, either way."""
    only = len(one - other)
    ways: int = comb(only + len(other - one), only) * 2 ** len(one & other)
    return ways


class _Error(NamedTuple):
    """The variance of a delta, and how many degrees of freedom its estimate has."""

    variance: float
    freedom: float

    def reach(self, tail: float) -> float:
        """Give what chance exceeds to one side with this probability."""
        return sqrt(self.variance) * student_quantile(tail, self.freedom)


def _delta(sides: _Sides) -> tuple[float, _Error]:
    """Give Cliff's delta and its error, by leaving out each make in turn."""
    xs, x_makes, ys, y_makes = sides
    x_wins, y_wins = _wins(xs, ys), _wins(ys, xs)
    whole = sum(x_wins)
    effect = whole / (len(xs) * len(ys))
    x_sums, y_sums = _by_make(x_makes, x_wins), _by_make(y_makes, y_wins)
    x_sizes, y_sizes = Counter(x_makes), Counter(y_makes)
    own = _own_wins(sides, x_sizes.keys() & y_sizes.keys())
    squares: dict[str, float] = {}
    for make in sorted(x_sizes.keys() | y_sizes.keys()):
        # What the make won as one side and as the other; pairs within it were counted twice.
        left = whole - x_sums.get(make, 0) + y_sums.get(make, 0) + own.get(make, 0)
        rest = (len(xs) - x_sizes[make]) * (len(ys) - y_sizes[make])
        squares[make] = (left / rest - effect) ** 2 if rest else 0.0
    variance = sum(squares.values()) * (len(squares) - 1) / len(squares)
    return effect, _Error(variance, _freedom(squares, x_sizes, y_sizes))


def _freedom(
    squares: Mapping[str, float], x_sizes: Mapping[str, int], y_sizes: Mapping[str, int]
) -> float:
    """Count degrees of freedom after Satterthwaite, from makes of one side, the other, or both.

    Two are lost, one for the middle of each side.
    """
    alike: dict[tuple[bool, bool], list[str]] = {}
    for make in squares:
        alike.setdefault((make in x_sizes, make in y_sizes), []).append(make)
    whole, parts = 0.0, 0.0
    for makes in alike.values():
        of_these = sum(squares[make] for make in makes)
        sizes = [x_sizes.get(make, 0) + y_sizes.get(make, 0) for make in makes]
        whole += of_these
        parts += of_these * of_these / _effective(sizes)
    return max(1.0, whole * whole / parts - 2) if parts else 1.0


def _effective(sizes: Sequence[int]) -> float:
    """Count makes by their evenness: as many equal ones would say as much (Kish)."""
    return float(sum(sizes) ** 2) / sum(size * size for size in sizes)


def _wins(values: Sequence[int], others: Sequence[int]) -> list[int]:
    """Give for each value how many more of the others it is above than below."""
    ordered = sorted(others)
    known: dict[int, int] = {}
    for value in values:
        if value not in known:
            below = bisect_left(ordered, value)
            known[value] = below - (len(ordered) - bisect_right(ordered, value))
    return [known[value] for value in values]


def _by_make(makes: Sequence[str], wins: Sequence[int]) -> dict[str, int]:
    sums: dict[str, int] = {}
    for make, won in zip(makes, wins, strict=True):
        sums[make] = sums.get(make, 0) + won
    return sums


def _own_wins(sides: _Sides, both: Iterable[str]) -> Mapping[str, int]:
    """Give what a make's wheels on the one side win over its own on the other."""
    xs, x_makes, ys, y_makes = sides
    mine: dict[str, tuple[list[int], list[int]]] = {make: ([], []) for make in both}
    for side, values, makes in ((0, xs, x_makes), (1, ys, y_makes)):
        for value, make in zip(values, makes, strict=True):
            if make in mine:
                mine[make][side].append(value)
    return {make: sum(_wins(*pair)) for make, pair in mine.items()}
