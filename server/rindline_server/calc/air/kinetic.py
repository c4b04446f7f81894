"""Mean kinetic temperature: the steady temperature that would have aged goods as much.

Source: USP <1079>, after J. D. Haynes, Journal of Pharmaceutical Sciences 60 (1971) 927-929.
With T in kelvin: MKT = (dH / R) / -ln(mean of exp(-dH / (R T))).
"""

from collections.abc import Sequence
from math import exp, fsum, log

__all__ = ["kinetic_exponential", "kinetic_temperature_c", "mean_kinetic_c"]

GAS_KJ_PER_MOL_K = 8.3144e-3
"""The gas constant as USP <1079> rounds it."""

_ZERO_K = 273.15


def kinetic_exponential(c: float, activation_kj_per_mol: float) -> float:
    """Give exp(-dH / (R T)) at a temperature in degrees Celsius."""
    return exp(-activation_kj_per_mol / (GAS_KJ_PER_MOL_K * (c + _ZERO_K)))


def kinetic_temperature_c(mean_exponential: float, activation_kj_per_mol: float) -> float:
    """Give the temperature in degrees Celsius that belongs to a mean of the exponential."""
    return activation_kj_per_mol / GAS_KJ_PER_MOL_K / -log(mean_exponential) - _ZERO_K


def mean_kinetic_c(
    temperatures_c: Sequence[float],
    activation_kj_per_mol: float = 83.144,
    weights: Sequence[float] | None = None,
) -> float:
    """Give the mean kinetic temperature of some temperatures, each held for its weight of time.

    Without weights all count alike. Raises ValueError if there are none or the weights don't fit.
    """
    shares = [1.0] * len(temperatures_c) if weights is None else weights
    whole = fsum(shares)
    if whole <= 0:
        raise ValueError("a mean needs at least one temperature with a weight")
    total = fsum(
        kinetic_exponential(c, activation_kj_per_mol) * share
        for c, share in zip(temperatures_c, shares, strict=True)
    )
    return kinetic_temperature_c(total / whole, activation_kj_per_mol)
