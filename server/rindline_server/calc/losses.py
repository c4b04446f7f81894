"""Weight loss: curves of wheels, the corridor of the past, what the air explains.

Ages are microseconds since hooping, losses percent of the hooped mass. Between two weighings a
curve is taken as linear; before the first and after the last nothing is said.
"""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from math import sqrt
from typing import NamedTuple

from rindline_server.calc.quantiles import quantile
from rindline_server.calc.student import student_quantile

__all__ = [
    "FIRST_DRAINAGE_US",
    "WEEK_US",
    "Corridor",
    "CurvePoint",
    "DryingInterval",
    "DryingSlope",
    "corridor_of",
    "drying_slope",
    "loss_at",
    "side_of",
]

WEEK_US = 7 * 24 * 3_600_000_000

FIRST_DRAINAGE_US = WEEK_US
"""Whey still drains in the first week after hooping (common practice, no source)."""


class CurvePoint(NamedTuple):
    """What a wheel had lost at an age; its curve begins with (0, 0.0)."""

    age_us: int
    lost_pct: float


Curve = Sequence[CurvePoint]
"""Points of one wheel in order of age; at one age the last one counts."""


def loss_at(curve: Curve, age_us: int) -> float | None:
    """Give the loss at an age, linear between weighings; None outside the curve's span."""
    if not curve or not curve[0].age_us <= age_us <= curve[-1].age_us:
        return None
    after = bisect_left(curve, age_us, key=lambda point: point.age_us)
    above = curve[after]
    if above.age_us == age_us:
        # Weighed twice at this age: the last weighing.
        while after + 1 < len(curve) and curve[after + 1].age_us == age_us:
            after += 1
        return curve[after].lost_pct
    below = curve[after - 1]
    share = (age_us - below.age_us) / (above.age_us - below.age_us)
    return below.lost_pct + (above.lost_pct - below.lost_pct) * share


# --- the corridor -------------------------------------------------------------------------------


class Corridor(NamedTuple):
    """Quantiles of what wheels had lost at a whole week of age."""

    week: int
    wheels: int
    low_pct: float
    median_pct: float
    high_pct: float


def corridor_of(curves: Iterable[Curve], least_wheels: int) -> list[Corridor]:
    """Give the 10 %, 50 % and 90 % quantiles at each whole week that enough curves span."""
    by_week: dict[int, list[float]] = {}
    for curve in curves:
        for week in range(curve[-1].age_us // WEEK_US + 1 if curve else 0):
            lost_pct = loss_at(curve, week * WEEK_US)
            if lost_pct is not None:
                by_week.setdefault(week, []).append(lost_pct)
    return [
        Corridor(week, len(found), *(quantile(sorted(found), share) for share in (0.1, 0.5, 0.9)))
        for week, found in sorted(by_week.items())
        if len(found) >= least_wheels
    ]


def side_of(corridor: Sequence[Corridor], age_us: int, lost_pct: float) -> str:
    """Say whether a loss at an age is within, below or above the corridor, or unknown.

    Between two whole weeks the corridor is linear; where one of them has none, it has none.
    """
    weeks = {one.week: one for one in corridor}
    week, rest_us = divmod(age_us, WEEK_US)
    before = weeks.get(week)
    after = weeks.get(week + 1) if rest_us else before
    if before is None or after is None:
        return "unknown"
    share = rest_us / WEEK_US
    if lost_pct < before.low_pct + (after.low_pct - before.low_pct) * share:
        return "below"
    if lost_pct > before.high_pct + (after.high_pct - before.high_pct) * share:
        return "above"
    return "within"


# --- what the air explains ----------------------------------------------------------------------


class DryingInterval(NamedTuple):
    """What a wheel lost between two weighings, a kg of it, in air of so much deficit (kPa h)."""

    wheel: int
    deficit_kpa_h: float
    lost_g_per_kg: float


class DryingSlope(NamedTuple):
    """Loss a kg and kPa h: the slope through the origin, its 95 % interval, what it explains.

    ``r_squared`` is the part of the squared differences from the mean loss that the slope
    explains; below 0 it explains less than the mean alone.
    """

    wheels: int
    intervals: int
    slope: float
    low: float
    high: float
    r_squared: float


def drying_slope(intervals: Sequence[DryingInterval], least_wheels: int) -> DryingSlope | None:
    """Fit the slope by least squares; None with fewer wheels than asked, or no deficit at all.

    The intervals of a wheel have that wheel in common, so the error of the slope is that between
    wheels: a jackknife that leaves out one wheel after the other, with Student's t of one degree
    of freedom fewer than there are wheels.
    """
    by_wheel: dict[int, tuple[float, float]] = {}
    for one in intervals:
        xy, xx = by_wheel.get(one.wheel, (0.0, 0.0))
        x, y = one.deficit_kpa_h, one.lost_g_per_kg
        by_wheel[one.wheel] = (xy + x * y, xx + x * x)
    xy_sum = sum(xy for xy, _ in by_wheel.values())
    xx_sum = sum(xx for _, xx in by_wheel.values())
    wheels = len(by_wheel)
    if wheels < max(2, least_wheels) or any(xx >= xx_sum for _, xx in by_wheel.values()):
        return None
    slope = xy_sum / xx_sum
    squares = sum(((xy_sum - xy) / (xx_sum - xx) - slope) ** 2 for xy, xx in by_wheel.values())
    reach = student_quantile(0.025, wheels - 1) * sqrt(squares * (wheels - 1) / wheels)
    return DryingSlope(
        wheels=wheels,
        intervals=len(intervals),
        slope=slope,
        low=slope - reach,
        high=slope + reach,
        r_squared=_explained(intervals, slope),
    )


def _explained(intervals: Sequence[DryingInterval], slope: float) -> float:
    mean = sum(one.lost_g_per_kg for one in intervals) / len(intervals)
    about_mean = sum((one.lost_g_per_kg - mean) ** 2 for one in intervals)
    about_slope = sum((one.lost_g_per_kg - slope * one.deficit_kpa_h) ** 2 for one in intervals)
    return 1 - about_slope / about_mean if about_mean > 0 else 0.0
