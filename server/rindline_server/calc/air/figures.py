"""Figures of a tally: what is shown to people."""

from collections.abc import Mapping
from typing import NamedTuple

from rindline_server.calc.air.kinetic import kinetic_temperature_c
from rindline_server.calc.air.packing import C_STEPS, PCT_STEPS, spread_of
from rindline_server.calc.air.rule import AirRule
from rindline_server.calc.air.series import HOUR_US
from rindline_server.calc.air.tally import Tally

__all__ = ["Figures", "Range", "figures", "percentile"]


class Range(NamedTuple):
    """Mean, extremes and percentiles of a quantity, weighted by time.

    Percentiles are exact to half a step of the spread (0.05 degrees, 0.25 %).
    """

    mean: float
    least: float
    most: float
    p05: float
    p50: float
    p95: float


class Figures(NamedTuple):
    """Figures over the observed part of a time; None for what was not observed.

    Degrees Celsius, % of relative humidity, kilopascals; the deficit as a mean and times hours.
    """

    c: Range | None
    pct: Range | None
    dew_point_c: float | None
    deficit_kpa: float | None
    deficit_kpa_h: float | None
    mean_kinetic_c: float | None


def figures(whole: Tally, rule: AirRule) -> Figures:
    """Give the figures of a tally that was made by this rule."""
    c_h = whole.c_us / HOUR_US
    humidity_h = whole.humidity_us / HOUR_US
    both_h = whole.both_us / HOUR_US
    return Figures(
        c=_range(whole.area_c_h, c_h, (whole.least_c, whole.most_c), whole.c_spread, C_STEPS),
        pct=_range(
            whole.area_pct_h,
            humidity_h,
            (whole.least_pct, whole.most_pct),
            whole.humidity_spread,
            PCT_STEPS,
        ),
        dew_point_c=whole.dew_c_h / both_h if both_h else None,
        deficit_kpa=whole.deficit_kpa_h / both_h if both_h else None,
        deficit_kpa_h=whole.deficit_kpa_h if both_h else None,
        mean_kinetic_c=_kinetic(whole, c_h, rule) if c_h else None,
    )


def _kinetic(whole: Tally, c_h: float, rule: AirRule) -> float:
    return kinetic_temperature_c(whole.kinetic_h / c_h, rule.activation_kj_per_mol)


def _range(
    area_h: float,
    hours: float,
    extremes: tuple[float | None, float | None],
    packed: bytes,
    steps: int,
) -> Range | None:
    least, most = extremes
    if not hours or least is None or most is None:
        return None
    spread = spread_of(packed)
    p05, p50, p95 = (
        min(most, max(least, percentile(spread, percent) / steps)) for percent in (5, 50, 95)
    )
    return Range(min(most, max(least, area_h / hours)), least, most, p05, p50, p95)


def percentile(spread: Mapping[int, int], percent: int) -> int:
    """Give the step of a spread (in order, not empty) in which a percentile of the time lies."""
    asked = sum(spread.values()) * percent
    passed = 0
    for step, time_us in spread.items():
        passed += 100 * time_us
        if passed >= asked:
            return step
    raise ValueError("an empty spread has no percentiles")
