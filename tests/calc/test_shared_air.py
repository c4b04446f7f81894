"""The air of a room for many stays: running sums give what adding up each hour would."""

from math import fsum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline_server.calc.air import HOUR_US, Tally
from rindline_server.calc.shared_air import NO_AIR, AirSums, RunningAir

_hours = st.lists(
    st.tuples(st.integers(0, 40), st.integers(0, HOUR_US), st.floats(-60, 60)),
    max_size=25,
    unique_by=lambda hour: hour[0],
).map(sorted)


def _tally(observed_us: int, area: float) -> Tally:
    return Tally(
        c_us=observed_us,
        humidity_us=observed_us // 2,
        both_us=observed_us // 3,
        area_c_h=area,
        area_pct_h=2 * area,
        deficit_kpa_h=3 * area,
        too_cold_us=observed_us // 4,
        too_warm_us=observed_us // 5,
        too_dry_us=observed_us // 6,
        too_damp_us=observed_us // 7,
    )


def _running(hours: list[tuple[int, int, float]]) -> RunningAir:
    return RunningAir([(h * HOUR_US, (h + 1) * HOUR_US, _tally(us, area)) for h, us, area in hours])


@given(_hours, st.tuples(st.integers(0, 45), st.integers(0, 45)).map(sorted))
def test_whole_hours_are_added_up(hours: list[tuple[int, int, float]], span: list[int]) -> None:
    """From one whole hour to another, every sum is that of the hours between, with holes among
    them or without."""
    first, last = span
    found = _running(hours).over(first * HOUR_US, last * HOUR_US)
    within = [_tally(us, area) for h, us, area in hours if first <= h < last]
    for name in AirSums._fields:
        expected = fsum(getattr(tally, name) for tally in within)
        assert getattr(found, name) == pytest.approx(expected, abs=1e-4, rel=1e-12)


@given(_hours, st.lists(st.integers(0, 45 * HOUR_US), min_size=3, max_size=3).map(sorted))
def test_two_stays_make_up_the_one(hours: list[tuple[int, int, float]], times: list[int]) -> None:
    """Wherever a stay is cut in two, also amid an hour, its parts add up to the whole."""
    air = _running(hours)
    begin, middle, end = times
    whole, parts = air.over(begin, end), air.over(begin, middle).plus(air.over(middle, end))
    assert parts == pytest.approx(whole, abs=1e-3)


def test_an_hour_counts_by_its_part() -> None:
    """A quarter of an hour has a quarter of what the hour had; before and after there is none."""
    air = _running([(5, HOUR_US, 8.0)])
    quarter = air.over(5 * HOUR_US + HOUR_US // 2, 5 * HOUR_US + HOUR_US * 3 // 4)
    assert quarter.area_c_h == 2
    assert quarter.c_us == HOUR_US / 4
    assert air.over(0, 5 * HOUR_US) == NO_AIR
    assert air.over(6 * HOUR_US, 9 * HOUR_US) == NO_AIR
    assert _running([]).over(0, 9 * HOUR_US) == NO_AIR
