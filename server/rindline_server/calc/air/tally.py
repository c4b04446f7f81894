"""Sums over a time of a room's air, which add up from hours to stays to whole paths."""

from typing import NamedTuple

__all__ = ["NOTHING_OBSERVED", "Tally"]


class Tally(NamedTuple):
    """Everything the figures of a time are made of; each field is a column of the roll-up.

    Times in microseconds; areas are integrals over the observed time in the unit their name ends
    with (``c_h``: degrees Celsius times hours). ``kinetic_h`` is the integral of
    exp(-dH / (R T)). ``c_spread`` and ``humidity_spread`` hold the time spent in each step of
    0.1 degrees and of 0.5 %, ``spells`` the pieces outside a limit, ``unseen`` the pieces in
    which no temperature was observed; all packed, see :mod:`.packing`.
    """

    readings: int = 0
    c_us: int = 0
    humidity_us: int = 0
    both_us: int = 0
    area_c_h: float = 0.0
    area_pct_h: float = 0.0
    dew_c_h: float = 0.0
    deficit_kpa_h: float = 0.0
    kinetic_h: float = 0.0
    degree_c_h: float = 0.0
    cold_us: int = 0
    too_cold_us: int = 0
    too_warm_us: int = 0
    too_dry_us: int = 0
    too_damp_us: int = 0
    least_c: float | None = None
    most_c: float | None = None
    least_pct: float | None = None
    most_pct: float | None = None
    c_spread: bytes = b""
    humidity_spread: bytes = b""
    spells: bytes = b""
    unseen: bytes = b""


NOTHING_OBSERVED = Tally()
"""The tally of a time in which nothing was observed, and of no time at all."""
