"""The figures of the air worked out the slow and simple way, minute by minute, to compare with.

All readings, ends and changes lie on whole minutes, so within a minute everything is a straight
line. Nothing of the server is used here.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

__all__ = ["Hung", "Plain", "plain_air"]


class Hung(NamedTuple):
    """A sensor's readings {minute: value} of one quantity, and when it hung in the room."""

    shown: dict[int, float]
    from_minute: int = -(10**9)
    until_minute: int = 10**9
    offset: float = 0.0


class Plain(NamedTuple):
    """Figures of one quantity: minutes observed, and over them mean, extremes, and the rest."""

    observed_minutes: int
    mean: float
    least: float
    most: float
    above_h: float
    outside_minutes: float


def _at(hung: Hung, minute: int, into_the_next: bool, gap: int) -> float | None:
    """What a sensor shows at one end of a minute, if it is observed all through that minute."""
    first = minute if into_the_next else minute - 1
    if not hung.from_minute <= first < hung.until_minute:
        return None
    before = [t for t in hung.shown if t <= first]
    behind = [t for t in hung.shown if t >= first + 1]
    if not before or not behind or min(behind) - max(before) > gap:
        return None
    a, b = max(before), min(behind)
    share = (minute - a) / (b - a)
    return (1 - share) * hung.shown[a] + share * hung.shown[b] + hung.offset


def plain_air(
    sensors: Sequence[Hung],
    from_minute: int,
    until_minute: int,
    *,
    gap: int = 90,
    base: float = 8.0,
    limits: Sequence[tuple[int, float, float]] = (),
) -> Plain:
    """Work out a quantity; ``limits`` are (from which minute, least, most), in order."""
    lines = []
    outside = 0.0
    for minute in range(from_minute, until_minute):
        begins = [v for one in sensors if (v := _at(one, minute, True, gap)) is not None]
        ends = [v for one in sensors if (v := _at(one, minute + 1, False, gap)) is not None]
        if not begins:
            continue
        line = (float(np.mean(begins)), float(np.mean(ends)))
        lines.append(line)
        held = [(least, most) for since, least, most in limits if since <= minute]
        if held:
            least, most = held[-1]
            outside += _share_above(line, most) + _share_above((-line[0], -line[1]), -least)
    values = np.array(lines)
    return Plain(
        observed_minutes=len(lines),
        mean=float(values.mean()),
        least=float(values.min()),
        most=float(values.max()),
        above_h=sum(_area_above(line, base) for line in lines) / 60,
        outside_minutes=outside,
    )


def _share_above(line: tuple[float, float], limit: float) -> float:
    """Which part of a minute a straight line spends above a limit."""
    low, high = sorted(line)
    if low >= limit:
        return 1.0 if high > limit else 0.0
    return (high - limit) / (high - low) if high > limit else 0.0


def _area_above(line: tuple[float, float], base: float) -> float:
    """The area between a straight line and a base below it, over one minute."""
    low, high = sorted(line)
    if low >= base:
        return (low + high) / 2 - base
    return _share_above(line, base) * (high - base) / 2
