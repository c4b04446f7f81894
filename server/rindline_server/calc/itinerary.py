"""The way a lot went from place to place, out of stays of which several may overlap.

A lot of many pieces can lie at two places at once. Then one way is followed, from its end back:
that of the piece that ended where it was cut, sold or still lies.
"""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from typing import NamedTuple

__all__ = ["Berth", "Departure", "Leg", "itinerary"]


class Berth(NamedTuple):
    """A stay at a place, in microseconds since 1970; without an end it still goes on."""

    place: str
    from_us: int
    until_us: int | None


class Departure(NamedTuple):
    """Pieces left a place for another at a time."""

    place: str
    to_place: str
    at_us: int


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


class _Stays:
    """Stays in order of their beginning; of those begun before a time the one that lasts longest
    is found at once.
    """

    def __init__(self, stays: Iterable[_Clipped]) -> None:
        ordered = sorted(stays, key=lambda one: (one.from_us, one.until_us, one.place))
        self._begins = [one.from_us for one in ordered]
        self._longest: list[_Clipped] = []
        for one in ordered:
            self._longest.append(max(self._longest[-1], one) if self._longest else one)

    def before(self, at_us: int) -> _Clipped | None:
        """Give the stay that lasts longest of those that began before a time."""
        count = bisect_left(self._begins, at_us)
        return self._longest[count - 1] if count else None


def itinerary(
    stays: Sequence[Berth],
    from_us: int,
    until_us: int,
    end_place: str | None = None,
    departures: Sequence[Departure] = (),
) -> list[Leg]:
    """Cover a time with stays, each moment once; in order, each leg beginning where one ends.

    Going back from the end, the last stay at ``end_place`` is followed to its beginning. If the
    one before was at the same place, that comes next; else, if pieces had departed for this
    place, where they departed from; else, of all stays begun before, the one that goes on
    longest. Where there is none, the leg has no stay.
    """
    began = [
        _Clipped(
            until_us if s.until_us is None else min(s.until_us, until_us), s.from_us, s.place, i
        )
        for i, s in enumerate(stays)
    ]
    began = [s for s in began if s.from_us < s.until_us > from_us]
    everywhere = _Stays(began)
    at_place = {
        place: _Stays(s for s in began if s.place == place) for place in {s.place for s in began}
    }
    legs: list[Leg] = []
    here_us = until_us
    place = end_place
    while here_us > from_us:
        there = at_place.get(place) if place is not None else None
        stay = (there.before(here_us) if there else None) or everywhere.before(here_us)
        if stay is None or stay.until_us <= from_us:
            legs.append(Leg(None, from_us, here_us))
            break
        if stay.until_us < here_us:
            legs.append(Leg(None, stay.until_us, here_us))
        legs.append(Leg(stay.stay, max(stay.from_us, from_us), min(stay.until_us, here_us)))
        here_us = stay.from_us
        place = None
        before = at_place[stay.place].before(here_us)
        if before is not None and before.until_us >= here_us:
            place = stay.place
        elif (left := _departed(departures, stay.place, here_us)) is not None:
            if here_us > from_us and left.at_us < here_us:
                legs.append(Leg(None, max(left.at_us, from_us), here_us))
            here_us, place = left.at_us, left.place
    legs.reverse()
    return legs


def _departed(departures: Iterable[Departure], to_place: str, by_us: int) -> Departure | None:
    """Give the last departure for a place by a time."""
    return max(
        (one for one in departures if one.to_place == to_place and one.at_us <= by_us),
        key=lambda one: (one.at_us, one.place),
        default=None,
    )
