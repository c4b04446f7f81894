"""Quantiles of a few numbers."""

from collections.abc import Sequence

__all__ = ["quantile"]


def quantile(ordered: Sequence[float], share: float) -> float:
    """Give the value below which ``share`` (0 to 1) of the ordered, non-empty values lies.

    Between two values it is linear: definition 7 of Hyndman and Fan, "Sample quantiles in
    statistical packages" (1996), which numpy and R take if not told otherwise.
    """
    place = (len(ordered) - 1) * share
    below = min(int(place), len(ordered) - 1)
    above = min(below + 1, len(ordered) - 1)
    # Each value with its own weight: so equal values give exactly themselves.
    step = ordered[above] - ordered[below]
    return ordered[below] + step * (place - below)
