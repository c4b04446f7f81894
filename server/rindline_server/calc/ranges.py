"""Sets of whole numbers kept as ranges: short however many numbers are in a row."""

from collections.abc import Iterable, Sequence

__all__ = ["add_numbers", "count", "gaps"]

Ranges = Sequence[tuple[int, int]]
"""Ranges (first, last), both included, in order, with a gap between each two."""


def add_numbers(ranges: Ranges, numbers: Iterable[int]) -> list[tuple[int, int]]:
    """Give the ranges with some numbers added."""
    spans = sorted([*ranges, *((number, number) for number in numbers)])
    merged: list[tuple[int, int]] = []
    for first, last in spans:
        if merged and first <= merged[-1][1] + 1:
            merged[-1] = (merged[-1][0], max(merged[-1][1], last))
        else:
            merged.append((first, last))
    return merged


def gaps(ranges: Ranges, first: int, last: int) -> list[tuple[int, int]]:
    """Give the ranges of numbers from ``first`` to ``last`` that are not in ``ranges``."""
    missing: list[tuple[int, int]] = []
    expected = first
    for begin, end in ranges:
        if begin > expected:
            missing.append((expected, min(begin - 1, last)))
        expected = max(expected, end + 1)
        if expected > last:
            return missing
    if expected <= last:
        missing.append((expected, last))
    return missing


def count(ranges: Ranges) -> int:
    """Count the numbers in ranges."""
    return sum(last - first + 1 for first, last in ranges)
