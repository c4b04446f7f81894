"""How a part is measured: round by round over both sizes of record and the bare work.

So whatever else the machine does meets all of them alike. The first round warms up and is thrown
away.
"""

from collections.abc import Callable
from statistics import median
from typing import Generic, NamedTuple, Protocol, TypeVar

from tests.bench.memory import Memory

__all__ = ["Measured", "Part", "Side", "measure_part"]


class Side(Protocol):
    """One record, and what answers for it."""

    @property
    def memory(self) -> Memory:
        """The memory of what answers."""


S = TypeVar("S", bound=Side)


class Measured(NamedTuple):
    """A part's figures, for the small record and the large; medians over the rounds.

    ``figures`` and ``bare`` are in ``unit``: ``1/s``, or ``s`` for one piece of work.
    ``ratios``: figure through bare. ``growth``: how many times as long the same takes on the
    large record. ``peak_bytes``: the most memory that what answers held in this part.
    ``aim`` says what would be good; nothing is judged by it.
    """

    name: str
    unit: str
    against: str
    aim: str
    figures: tuple[float, float]
    bare: tuple[float, float]
    ratios: tuple[float, float]
    growth: float
    peak_bytes: tuple[int, int]


class Part(NamedTuple, Generic[S]):
    """What is measured: our work on a side, and the bare work it is set beside."""

    name: str
    unit: str
    against: str
    aim: str
    ours: Callable[[S], float]
    bare: Callable[[S], float]


def measure_part(part: Part[S], sides: tuple[S, S], rounds: int) -> Measured:
    """Measure one part."""
    figures: tuple[list[float], list[float]] = ([], [])
    bare: tuple[list[float], list[float]] = ([], [])
    for side in sides:
        side.memory.forget_peak()
    for _ in range(rounds + 1):
        for which, side in enumerate(sides):
            figures[which].append(part.ours(side))
            bare[which].append(part.bare(side))
    small, large = (median(one[1:]) for one in figures)
    bare_small, bare_large = (median(one[1:]) for one in bare)
    return Measured(
        part.name,
        part.unit,
        part.against,
        part.aim,
        (small, large),
        (bare_small, bare_large),
        (small / bare_small, large / bare_large),
        large / small if part.unit == "s" else small / large,
        (sides[0].memory.peak_bytes(), sides[1].memory.peak_bytes()),
    )
