"""A lot's way: from hooping through the wheel's stays to the cut, then through the lot's own.

Each lot on the way has its time, which ends when the next was cut from it. Of a lot whose pieces
lay at several sites at once, the way is that of the piece that was cut, sent off, or (of what is
here) weighs most; so every moment of the path is counted once. A customer's path ends when the
goods were last sent to it.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from rindline_server.calc.itinerary import Berth, Departure, itinerary
from rindline_server.service.conditions.told import Told
from rindline_server.store import HOLDER_SORTS, LOT_STATES, KinRow, StayRow

__all__ = ["RoomTime", "Segment", "Way", "way_of"]

_STILL_OURS = frozenset({"on_hand", "in_transit"})


class RoomTime(NamedTuple):
    """A lot's time at a site in a room; without a site it was away, without a room none was told.

    ``still_there`` if it had not ended when the path did.
    """

    lot: str
    site: str | None
    room: str | None
    from_us: int
    until_us: int
    still_there: bool = False


class Segment(NamedTuple):
    """A lot's part of a way: ``legs`` cover it, each moment once; ``beside`` are stays of other
    pieces meanwhile.
    """

    lot: KinRow
    from_us: int
    until_us: int
    legs: list[RoomTime]
    beside: list[RoomTime]


class Way(NamedTuple):
    """A whole way. ``is_over``: the goods are sold or used up, so that nothing goes on."""

    segments: list[Segment]
    make: KinRow | None
    is_over: bool

    @property
    def first(self) -> KinRow:
        """The lot it begins with: the wheel."""
        return self.segments[0].lot

    @property
    def from_us(self) -> int:
        """When it begins: at hooping."""
        return self.segments[0].from_us

    @property
    def until_us(self) -> int:
        """When it ends."""
        return self.segments[-1].until_us

    @property
    def legs(self) -> list[RoomTime]:
        """All legs, which cover the time from begin to end."""
        return [leg for segment in self.segments for leg in segment.legs]


class _End(NamedTuple):
    at_us: int
    site: str | None
    is_over: bool


def way_of(told: Told, ids: Sequence[int]) -> Way | None:
    """Work out one way; None if nothing at all is told of when its lots were where."""
    lots = [told.ancestry.lots[lot] for lot in ids]
    end = _end(told, lots[-1])
    # A lot is made when it is cut from the one before, where that lay.
    cuts = [_End(lot.born_us or 0, _born_at(told, lot), is_over=True) for lot in lots[1:]]
    ends = [*cuts, *([end] if end is not None else ())]
    begin_us = _begin(told, lots[0], ends)
    if end is None or begin_us is None:
        return None
    bounds = [begin_us]
    for one in ends:
        bounds.append(max(one.at_us, bounds[-1]))
    segments = [
        _segment(told, lot, span, one)
        for lot, span, one in zip(lots, pairwise(bounds), ends, strict=True)
    ]
    return Way(segments, told.make_of(lots[0]), end.is_over)


def _born_at(told: Told, lot: KinRow) -> str | None:
    return next((deed.site for deed in told.deeds.get(lot.id, ()) if deed.kind == "born"), None)


def _begin(told: Told, first: KinRow, ends: Sequence[_End]) -> int | None:
    """Give when a way begins; of a lot not made as far as is told, with what is told first."""
    if first.born_us is not None:
        return first.born_us
    known = [stay.from_us for stay in told.stays.get(first.id, ())]
    known += [deed.at_us for deed in told.deeds.get(first.id, ())]
    known += [one.at_us for one in ends[:1]]
    return min(known, default=None)


def _end(told: Told, lot: KinRow) -> _End | None:
    """Give when the lot's own part ends, and at which site the piece lay that is followed."""
    if told.partner is not None:
        sent = [
            deed
            for deed in told.deeds.get(lot.id, ())
            if deed.kind == "dispatch" and deed.partner == told.partner
        ]
        return _End(sent[-1].at_us, sent[-1].site, is_over=True) if sent else None
    stays = told.stays.get(lot.id, [])
    state = LOT_STATES[lot.state]
    if state in _STILL_OURS or (state == "pending" and any(s.until_us is None for s in stays)):
        here = [h for h in told.holdings if HOLDER_SORTS[h.sort] == "site" and h.mass_g > 0]
        most = max(here, key=lambda holding: (holding.mass_g, holding.holder), default=None)
        return _End(told.now_us, most.holder if most else None, is_over=False)
    ended = [stay for stay in stays if stay.until_us is not None]
    last = max(ended, key=lambda stay: (stay.until_us or 0, stay.from_us), default=None)
    return _End(last.until_us or 0, last.site, is_over=True) if last else None


def _segment(told: Told, lot: KinRow, span: tuple[int, int], end: _End) -> Segment:
    from_us, until_us = span
    stays = told.stays.get(lot.id, [])
    berths = [Berth(stay.site, stay.from_us, stay.until_us) for stay in stays]
    left = [
        Departure(deed.site, deed.to_site, deed.at_us)
        for deed in told.deeds.get(lot.id, ())
        if deed.kind == "dispatch" and deed.to_site is not None
    ]
    followed = itinerary(berths, from_us, until_us, end.site, left)
    legs = [
        RoomTime(lot.code, None, None, leg.from_us, leg.until_us)
        if leg.stay is None
        else _in_room(lot, stays[leg.stay], leg.from_us, leg.until_us, end)
        for leg in followed
    ]
    on_the_way = {leg.stay: leg for leg in followed if leg.stay is not None}
    beside = []
    for number, stay in enumerate(stays):
        begin_us = max(stay.from_us, from_us)
        end_us = until_us if stay.until_us is None else min(stay.until_us, until_us)
        leg = on_the_way.get(number)
        if leg is not None:
            begin_us = max(begin_us, leg.until_us)
        if begin_us < end_us:
            beside.append(_in_room(lot, stay, begin_us, end_us, end))
    return Segment(lot, from_us, until_us, legs, beside if told.partner is None else [])


def _in_room(lot: KinRow, stay: StayRow, from_us: int, until_us: int, end: _End) -> RoomTime:
    still = stay.until_us is None and not end.is_over and until_us == end.at_us
    return RoomTime(lot.code, stay.site, stay.room, from_us, until_us, still)
