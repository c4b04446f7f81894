"""How large the story is, and on which days of it things happen."""

from typing import NamedTuple

__all__ = ["SMALL", "WHOLE", "Scale"]


class Scale(NamedTuple):
    """The measures of a telling; days are counted from the first, a Monday, which is day 0.

    ``wheels`` is the least and the most wheels of a make. Of each ripe make so many wheels are
    cut into quarters (eight pieces), into halves, sold whole, or kept to ripen on; all others
    are cut into wedges. ``cut_a_day`` is what the cutting room manages. Each sensor shows its room
    every ``reading_minutes``.
    """

    name: str
    make_days: tuple[int, ...]
    wheels: tuple[int, int]
    quartered: int
    halved: int
    sold_whole: int
    kept: int
    cut_a_day: int
    wedges_a_case: int
    reading_minutes: int


# Monday, Wednesday and Friday of twelve weeks, and the Saturday of every third week.
_MAKE_DAYS = tuple(
    week * 7 + day for week in range(12) for day in ((0, 2, 4, 5) if week % 3 == 2 else (0, 2, 4))
)

WHOLE = Scale("whole", _MAKE_DAYS, (38, 40), 3, 1, 2, 2, 24, 16, 5)
"""Forty makes of about forty wheels."""

SMALL = Scale("small", _MAKE_DAYS[:6], (12, 12), 1, 1, 1, 2, 8, 8, 30)
"""Six makes of a dozen wheels: the same story for those in a hurry."""
