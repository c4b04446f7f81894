"""How much of what there was to account for is accounted for."""

import pytest

from rindline_server.calc.balance import accounted_pct


@pytest.mark.parametrize(
    ("base_g", "unaccounted_g", "pct"),
    # Constructed.
    [
        (1_000, 0, 100.0),
        (1_000, 10, 99.0),
        (1_000, -10, 99.0),
        (1_000, 1_000, 0.0),
        (0, 0, 100.0),
        (0, 5, 0.0),
        (3, 1, 66.67),
    ],
)
def test_what_is_missing_and_what_is_over_both_count(
    base_g: int, unaccounted_g: int, pct: float
) -> None:
    """Percent of the base, to a hundredth; nothing to account for is accounted for."""
    assert accounted_pct(base_g, unaccounted_g) == pct
