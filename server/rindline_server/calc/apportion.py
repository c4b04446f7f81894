"""Whole numbers shared out so that they add up (largest remainder, also called Hamilton's)."""

from collections.abc import Sequence

__all__ = ["apportion"]


def apportion(total: int, weights: Sequence[int]) -> list[int]:
    """Share ``total`` in proportion to ``weights`` (not all zero) as integers with that sum.

    Each share is its exact proportion rounded down or up; ties go to the earlier weight.
    Raises ValueError if the weights are negative or add up to nothing.
    """
    whole = sum(weights)
    if whole <= 0 or min(weights) < 0:
        raise ValueError("weights must be at least zero and not all zero")
    shares = [total * weight // whole for weight in weights]
    remainders = [total * weight % whole for weight in weights]
    order = sorted(range(len(weights)), key=lambda i: (-remainders[i], i))
    for i in order[: total - sum(shares)]:
        shares[i] += 1
    return shares
