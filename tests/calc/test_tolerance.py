"""How far two weighings of the same thing may differ."""

import pytest

from rindline_server.calc.tolerance import ScaleTolerance


@pytest.mark.parametrize(
    ("mass_g", "tolerance_g"),
    # The larger of 10 g and 0.5 %, rounded down to whole grams: this project's own events.md; a
    # setting of the business, no source.
    [(0, 10), (1_999, 10), (2_000, 10), (2_199, 10), (2_200, 11), (10_000, 50), (400_000, 2_000)],
)
def test_the_larger_of_ten_grams_and_half_a_percent(mass_g: int, tolerance_g: int) -> None:
    """By default; both sides of the point where the percentage takes over."""
    assert ScaleTolerance().of(mass_g) == tolerance_g


def test_the_tolerance_is_a_setting() -> None:
    """A business with better scales says so."""
    assert ScaleTolerance(least_g=2, permille=1).of(1_000) == 2
    assert ScaleTolerance(least_g=2, permille=1).of(9_000) == 9
