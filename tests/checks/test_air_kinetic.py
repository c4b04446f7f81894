"""Mean kinetic temperature: the values of USP <1079> and what must always hold."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline_server.calc.air import mean_kinetic_c

_TEMPERATURES = st.lists(st.floats(-40, 85), min_size=1, max_size=50)


@pytest.mark.parametrize(
    ("temperatures_c", "hours", "expected_c", "within_c"),
    [
        # USP <1079>'s worked example, dH = 83.144 kJ/mol.
        ([24.0, 26.0, 28.0, 21.0], [16.0, 5.0, 3.0, 24.0], 23.23, 0.005),
        # Recomputed from the formula.
        ([20.0, 30.0], None, 26.260, 0.0005),
        ([2.0, 8.0], None, 5.536, 0.0005),
    ],
)
def test_published_values(
    temperatures_c: list[float], hours: list[float] | None, expected_c: float, within_c: float
) -> None:
    """USP's example weighted by hours, and two recomputed pairs, to the digits given."""
    assert mean_kinetic_c(temperatures_c, weights=hours) == pytest.approx(expected_c, abs=within_c)


@given(temperatures_c=_TEMPERATURES)
def test_it_lies_between_the_mean_and_the_highest(temperatures_c: list[float]) -> None:
    """Mean <= mean kinetic temperature <= highest, whatever the readings."""
    mean_c = sum(temperatures_c) / len(temperatures_c)
    assert mean_c - 1e-9 <= mean_kinetic_c(temperatures_c) <= max(temperatures_c) + 1e-9


@given(c=st.floats(-40, 85), count=st.integers(1, 20))
def test_equal_readings_give_themselves(c: float, count: int) -> None:
    """A steady temperature is its own mean kinetic temperature."""
    assert mean_kinetic_c([c] * count) == pytest.approx(c, abs=1e-9)


@given(temperatures_c=_TEMPERATURES, smaller=st.floats(20, 80), more=st.floats(1, 60))
def test_a_higher_activation_energy_weighs_heat_more(
    temperatures_c: list[float], smaller: float, more: float
) -> None:
    """The setting is used: with more activation energy the figure is never lower."""
    less = mean_kinetic_c(temperatures_c, smaller)
    assert mean_kinetic_c(temperatures_c, smaller + more) >= less - 1e-9


def test_no_temperature_has_no_mean() -> None:
    """Nothing, or a weight of nothing, is refused rather than divided by."""
    for temperatures_c, weights in ([], None), ([4.0], [0.0]):
        with pytest.raises(ValueError, match="at least one"):
            mean_kinetic_c(temperatures_c, weights=weights)
