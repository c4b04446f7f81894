"""What the figures of the air go by: settings, not constants."""

from typing import NamedTuple

__all__ = ["AirRule"]

_MINUTE_US = 60_000_000


class AirRule(NamedTuple):
    """How readings become figures.

    ``longest_gap_us``: two readings of a sensor further apart leave the time between unobserved.
    ``base_c``: the base of the degree-hours. ``cold_c``: time below it is counted by itself.
    ``activation_kj_per_mol``: the activation energy of the mean kinetic temperature (USP <1079>
    takes 83.144).
    """

    longest_gap_us: int = 90 * _MINUTE_US
    base_c: float = 8.0
    cold_c: float = 1.67
    activation_kj_per_mol: float = 83.144
