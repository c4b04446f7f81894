"""Whole numbers shared out so that they add up."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline_server.calc.apportion import apportion


def test_the_largest_remainders_get_what_is_left() -> None:
    """10 over 3.2 : 3.3 : 3.5 rounds to 3, 3 and 4. Constructed."""
    assert apportion(10, [32, 33, 35]) == [3, 3, 4]


def test_ties_go_to_the_earlier() -> None:
    """100 over three alike: 34, 33, 33. Constructed."""
    assert apportion(100, [1, 1, 1]) == [34, 33, 33]


@given(
    total=st.integers(0, 10**9),
    weights=st.lists(st.integers(0, 10**9), min_size=1, max_size=30).filter(any),
)
def test_shares_add_up_and_are_rounded_up_or_down(total: int, weights: list[int]) -> None:
    """Whatever is shared: the sum is exact, each share its proportion rounded down or up, and
    nothing goes to a weight of nothing."""
    shares = apportion(total, weights)
    assert sum(shares) == total
    whole = sum(weights)
    for share, weight in zip(shares, weights, strict=True):
        assert total * weight // whole <= share <= -(-total * weight // whole)


@pytest.mark.parametrize("weights", [[0, 0], [], [3, -1]])
def test_without_weights_there_is_nothing_to_share_by(weights: list[int]) -> None:
    """All zero, none at all, or negative."""
    with pytest.raises(ValueError, match="weights must be"):
        apportion(5, weights)
