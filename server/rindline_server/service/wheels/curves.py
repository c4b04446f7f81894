"""Curves of many wheels: what each had lost at each weighing, and the air it stood in."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from rindline_server.calc.air import HOUR_US, AirRule
from rindline_server.calc.losses import CurvePoint
from rindline_server.calc.shared_air import NO_AIR, AirSums, RunningAir
from rindline_server.ledger.entries import EntryKind
from rindline_server.service.air.hours import hours_over
from rindline_server.store import MarkRow, ReadTransaction, StayRow, WheelRow

__all__ = ["CURVE_KINDS", "InRoom", "RoomsAir", "Weighed", "WheelCurve", "curve_of", "stays_in"]

CURVE_KINDS: tuple[EntryKind, ...] = (
    *("weigh", "sample"),
    *("take", "loss", "discard", "finish", "dispatch"),
)
"""The kinds of entry a curve is read from."""

_ENDS = frozenset({"take", "loss", "discard", "finish"})


class Weighed(NamedTuple):
    """A weighing, and what was lost since hooping: plugs and samples are no loss."""

    at_us: int
    mass_g: int
    lost_g: int


class WheelCurve(NamedTuple):
    """A wheel from hooping to when it was first cut, thrown away or left us, if it was."""

    wheel: WheelRow
    weighings: list[Weighed]
    ended_us: int | None

    def points(self, until_us: int | None = None) -> list[CurvePoint]:
        """Give the curve, from nothing lost at hooping on, perhaps only until some time."""
        wheel = self.wheel
        return [
            CurvePoint(0, 0.0),
            *(
                CurvePoint(one.at_us - wheel.born_us, 100 * one.lost_g / wheel.made_g)
                for one in self.weighings
                if until_us is None or one.at_us <= until_us
            ),
        ]


def curve_of(wheel: WheelRow, marks: Iterable[MarkRow]) -> WheelCurve:
    """Make a wheel's curve of its entries, in order of time.

    At one and the same time a wheel is weighed before it is sampled or cut.
    """
    marks = [mark for mark in marks if mark.at_us >= wheel.born_us]
    ended_us = min((mark.at_us for mark in marks if _is_end(mark)), default=None)
    samples = [mark for mark in marks if mark.kind == "sample"]
    weighings: list[Weighed] = []
    sampled_g = place = 0
    for mark in marks:
        if mark.kind != "weigh" or (ended_us is not None and mark.at_us > ended_us):
            continue
        while place < len(samples) and samples[place].at_us < mark.at_us:
            sampled_g += samples[place].mass_g or 0
            place += 1
        mass_g = mark.mass_g or 0
        weighings.append(Weighed(mark.at_us, mass_g, wheel.made_g - mass_g - sampled_g))
    return WheelCurve(wheel, weighings, ended_us)


def _is_end(mark: MarkRow) -> bool:
    return mark.kind in _ENDS or (mark.kind == "dispatch" and mark.partner is not None)


# --- the air -------------------------------------------------------------------------------------


class InRoom(NamedTuple):
    """A wheel's time in a room; rooms that were not told are left out."""

    room: str
    from_us: int
    until_us: int


def stays_in(
    stays: Iterable[StayRow], wheels: Mapping[int, tuple[int, int]]
) -> dict[int, list[InRoom]]:
    """Give each wheel's times in rooms, none twice, within the (from, until) given for it."""
    found: dict[int, list[InRoom]] = {wheel: [] for wheel in wheels}
    for stay in sorted(stays, key=lambda one: one.from_us):
        from_us, until_us = wheels[stay.lot_id]
        there = found[stay.lot_id]
        begin = max(stay.from_us, from_us, there[-1].until_us if there else from_us)
        end = until_us if stay.until_us is None else min(stay.until_us, until_us)
        if stay.room is not None and begin < end:
            there.append(InRoom(stay.room, begin, end))
    return found


class RoomsAir:
    """The air of all rooms that some wheels stood in: each room's hours are read once."""

    def __init__(
        self, snap: ReadTransaction, stays: Iterable[Sequence[InRoom]], rule: AirRule
    ) -> None:
        """Read the hours of every room from the first of these stays to the last."""
        spans: dict[str, tuple[int, int]] = {}
        for room, from_us, until_us in (stay for of_wheel in stays for stay in of_wheel):
            begin, end = spans.get(room, (from_us, until_us))
            spans[room] = (min(begin, from_us), max(end, until_us))
        # Whole hours, since parts of them would be worked out from readings.
        self._rooms = {
            room: RunningAir(
                hours_over(
                    snap, room, begin // HOUR_US * HOUR_US, -(-end // HOUR_US) * HOUR_US, rule
                )
            )
            for room, (begin, end) in spans.items()
        }

    def over(self, stays: Iterable[InRoom], from_us: int, until_us: int) -> AirSums:
        """Give the air of a wheel with these stays from one time until another."""
        whole = NO_AIR
        for room, begin, end in stays:
            first, last = max(begin, from_us), min(end, until_us)
            if first < last:
                whole = whole.plus(self._rooms[room].over(first, last))
        return whole
