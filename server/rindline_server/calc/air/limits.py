"""Limits of a room's air as they were declared."""

from typing import NamedTuple

__all__ = ["NO_LIMITS", "LimitSpan", "Limits"]


class Limits(NamedTuple):
    """What the air of a room should stay within, limits included; None: no limit declared."""

    least_c: float | None = None
    most_c: float | None = None
    least_pct: float | None = None
    most_pct: float | None = None


NO_LIMITS = Limits()

LimitSpan = tuple[int, int, Limits]
"""From when until when (microseconds) which limits hold."""
