"""The way a lot went from place to place, out of stays of which several may overlap.

A lot of many pieces can lie at two places at once. Then one way is followed, from its end back:
that of the piece that ended where it was cut, sold or still lies.
"""

from collections.abc import Sequence
from typing import NamedTuple

__all__ = ["Berth", "Leg", "itinerary"]


class Berth(NamedTuple):
    """A stay at a place, in microseconds since 1970; without an end it still goes on."""

    place: str
    from_us: int
    until_us: int | None


class Leg(NamedTuple):
    """A piece of the way: ``stay`` is a position in the stays given, None for none of them."""

    stay: int | None
    from_us: int
    until_us: int


class _Clipped(NamedTuple):
    until_us: int
    from_us: int
    place: str
    stay: int


def itinerary(
    stays: Sequence[Berth], from_us: int, until_us: int, end_place: str | None = None
) -> list[Leg]:
    """Cover a time with stays, each moment once; in order, each leg beginning where one ends.

    Going back from the end, it begins with a stay at ``end_place`` if there is one (the last);
    each stay is followed to its beginning, and from there the one that goes on longest, among
    those that began before. Where there is none, the leg has no stay.
    """
    began = sorted(
        (
            _Clipped(
                until_us if s.until_us is None else min(s.until_us, until_us), s.from_us, s.place, i
            )
            for i, s in enumerate(stays)
        ),
        key=lambda s: (s.from_us, s.until_us, s.place),
    )
    began = [s for s in began if s.from_us < s.until_us > from_us]
    longest: list[_Clipped] = []
    for one in began:
        longest.append(max(longest[-1], one) if longest else one)
    legs: list[Leg] = []
    here_us = until_us
    there = [s for s in began if s.place == end_place]
    left = len(began)
    while here_us > from_us:
        while left and began[left - 1].from_us >= here_us:
            left -= 1
        stay = max(there) if there else longest[left - 1] if left else None
        there = []
        if stay is None or stay.until_us <= from_us:
            legs.append(Leg(None, from_us, here_us))
            break
        if stay.until_us < here_us:
            legs.append(Leg(None, stay.until_us, here_us))
        legs.append(Leg(stay.stay, max(stay.from_us, from_us), min(stay.until_us, here_us)))
        here_us = stay.from_us
    legs.reverse()
    return legs
