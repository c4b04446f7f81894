"""Moist air: saturation pressure, dew point, vapour pressure deficit.

Source of the saturation pressure: R. W. Hyland and A. Wexler, "Formulations for the thermodynamic
properties of the saturated phases of H2O from 173.15 K to 473.15 K", ASHRAE Transactions 89(2A),
1983, as given in the ASHRAE Handbook of Fundamentals, chapter Psychrometrics, equations 5 (over
ice, -100 to 0 degrees) and 6 (over water, 0 to 200 degrees). Below the triple point relative
humidity is thus taken over ice and the dew point is the frost point, as the handbook does.
"""

from math import exp, log

__all__ = ["LEAST_PCT", "deficit_kpa", "dew_point_c", "saturation_pa"]

LEAST_PCT = 0.1
"""Dry air has no dew point: a humidity below this one counts as this one there."""

_ZERO_K = 273.15
_TRIPLE_K = 273.16
_ICE_FIRST, _ICE_0, _ICE_1, _ICE_2, _ICE_3, _ICE_4, _ICE_LOG = (
    -5.6745359e3,
    6.3925247,
    -9.6778430e-3,
    6.2215701e-7,
    2.0747825e-9,
    -9.4840240e-13,
    4.1635019,
)
_WATER_FIRST, _WATER_0, _WATER_1, _WATER_2, _WATER_3, _WATER_LOG = (
    -5.8002206e3,
    1.3914993,
    -4.8640239e-2,
    4.1764768e-5,
    -1.4452093e-8,
    6.5459673,
)


def _log_over_ice(t_k: float) -> float:
    return (
        _ICE_FIRST / t_k
        + _ICE_0
        + t_k * (_ICE_1 + t_k * (_ICE_2 + t_k * (_ICE_3 + t_k * _ICE_4)))
        + _ICE_LOG * log(t_k)
    )


def _log_over_water(t_k: float) -> float:
    return (
        _WATER_FIRST / t_k
        + _WATER_0
        + t_k * (_WATER_1 + t_k * (_WATER_2 + t_k * _WATER_3))
        + _WATER_LOG * log(t_k)
    )


_TRIPLE_LOG = _log_over_water(_TRIPLE_K)


def saturation_pa(c: float) -> float:
    """Give the pressure of saturated water vapour in pascals at -100 to 200 degrees Celsius."""
    t_k = c + _ZERO_K
    return exp(_log_over_water(t_k) if t_k >= _TRIPLE_K else _log_over_ice(t_k))


def deficit_kpa(c: float, pct: float) -> float:
    """Give how much vapour pressure, in kilopascals, the air lacks until it is saturated."""
    return saturation_pa(c) * (1.0 - pct / 100.0) / 1000.0


def dew_point_c(c: float, pct: float) -> float:
    """Give the temperature in degrees Celsius to which this air must be cooled to be saturated.

    Found by Newton's method on the logarithm of the pressure, from the guess of a Magnus formula;
    two steps bring the pressure there to within 1e-10 of what it should be from -40 to 85 degrees.
    """
    if pct >= 100.0:
        return c
    return min(c, _dew_point_c(log(saturation_pa(c) * max(pct, LEAST_PCT) / 100.0)))


def _dew_point_c(log_pa: float) -> float:
    """Invert the saturation pressure, given by its natural logarithm (pascals)."""
    gamma = log_pa - 6.4147
    if log_pa >= _TRIPLE_LOG:
        t_k = _ZERO_K + 243.12 * gamma / (17.62 - gamma)
        for _ in range(_STEPS):
            slope = (
                -_WATER_FIRST / (t_k * t_k)
                + _WATER_1
                + t_k * (2 * _WATER_2 + t_k * 3 * _WATER_3)
                + _WATER_LOG / t_k
            )
            t_k -= (_log_over_water(t_k) - log_pa) / slope
        return t_k - _ZERO_K
    t_k = _ZERO_K + 272.62 * gamma / (22.46 - gamma)
    for _ in range(_STEPS):
        slope = (
            -_ICE_FIRST / (t_k * t_k)
            + _ICE_1
            + t_k * (2 * _ICE_2 + t_k * (3 * _ICE_3 + t_k * 4 * _ICE_4))
            + _ICE_LOG / t_k
        )
        t_k -= (_log_over_ice(t_k) - log_pa) / slope
    return t_k - _ZERO_K


_STEPS = 2
