"""All differences between two sets of whole numbers, in order, without writing them down."""

from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from itertools import accumulate

__all__ = ["PairDifferences"]


class PairDifferences:
    """The differences x - y over all pairs; as many as the one set times the other.

    Equal values are kept once with their number, so that wheels which shared their air are
    little work.
    """

    def __init__(self, xs: Sequence[int], ys: Sequence[int]) -> None:
        """Take both sets; neither is empty."""
        self._xs = sorted(Counter(xs).items())
        counted = sorted(Counter(ys).items())
        self._ys = [y for y, _ in counted]
        self._below = [0, *accumulate(number for _, number in counted)]
        self.count = len(xs) * len(ys)

    def nth(self, place: int) -> int:
        """Give the difference at a place in rising order, from 1 to ``count``."""
        low = self._xs[0][0] - self._ys[-1]
        high = self._xs[-1][0] - self._ys[0]
        while low < high:
            middle = (low + high) // 2
            if self._up_to(middle) >= place:
                high = middle
            else:
                low = middle + 1
        return low

    def twice_median(self) -> int:
        """Give twice the median, which is whole."""
        return self.nth((self.count + 1) // 2) + self.nth(self.count // 2 + 1)

    def _up_to(self, most: int) -> int:
        """Count the differences up to ``most``: for each x, the ys from x - most on."""
        ys, below = self._ys, self._below
        return sum(n * (below[-1] - below[bisect_left(ys, x - most)]) for x, n in self._xs)
