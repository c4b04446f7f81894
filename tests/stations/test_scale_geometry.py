"""What a piece from a place in the wheel should weigh, and what is said if it does not."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline import InvalidInputError
from rindline.stations import (
    Layer,
    eighths,
    expected_of_lot,
    expected_piece,
    halves,
    predicted_mass_g,
    quarters_of_halves,
    wedges,
)
from rindline_schema.events import Place


@pytest.mark.parametrize(
    ("from_deg", "to_deg", "layer", "mass_g"),
    [
        # By hand, of a wheel of 8,000 g (constructed): the share of 360 degrees, half for a layer.
        (0, 360, "whole", 8000),
        (0, 45, "whole", 1000),
        (0, 90, "upper", 1000),
        (0, 360, "lower", 4000),
        (350, 10, "whole", 444),  # 20/360 x 8000 = 444.4
        (0, 1, "lower", 11),  # 11.1
    ],
)
def test_a_sector_weighs_its_share(from_deg: int, to_deg: int, layer: Layer, mass_g: int) -> None:
    """A sector of a cylinder weighs its share of the round, and through 0 degrees likewise."""
    assert predicted_mass_g(8000, Place(from_deg=from_deg, to_deg=to_deg, layer=layer)) == mass_g


@pytest.mark.parametrize(
    ("places", "count"),
    [
        (halves(), 2),
        (eighths(), 8),
        (quarters_of_halves(), 8),
        (wedges(18, ("upper", "lower")), 40),
    ],
)
def test_a_pattern_fills_the_wheel_once(places: list[Place], count: int) -> None:
    """The pieces of each pattern cover every degree of both layers exactly once."""
    assert len(places) == count
    covered = [
        (layer, degree)
        for place in places
        for layer in (("upper", "lower") if place.layer == "whole" else (place.layer,))
        for degree in range(place.from_deg, place.to_deg)
    ]
    assert sorted(covered) == sorted(
        (layer, degree) for layer in ("upper", "lower") for degree in range(360)
    )


@given(
    st.integers(1000, 30_000),
    st.sampled_from([d for d in range(1, 361) if 360 % d == 0]),
    st.sampled_from([("whole",), ("upper", "lower")]),
)
def test_the_predicted_pieces_add_up_to_the_wheel(
    wheel_g: int, degrees: int, layers: tuple[Layer, ...]
) -> None:
    """The predictions of a whole pattern add up to the wheel, but for half a gram a piece."""
    places = wedges(degrees, layers)
    total_g = sum(predicted_mass_g(wheel_g, place) for place in places)
    assert abs(total_g - wheel_g) <= len(places) / 2


@pytest.mark.parametrize("degrees", [0, -45, 25, 361])
def test_wedges_must_fill_the_round(degrees: int) -> None:
    """Wedges that leave a rest are refused: the rest would be a piece nobody named."""
    with pytest.raises(InvalidInputError, match="360"):
        wedges(degrees)


@pytest.mark.parametrize("layers", [(), ("whole", "upper"), ("upper", "upper")])
def test_layers_must_not_overlap(layers: tuple[Layer, ...]) -> None:
    """A wheel is cut whole or as two halves, not both."""
    with pytest.raises(InvalidInputError, match="upper and lower"):
        wedges(90, layers)


def test_a_piece_of_another_wheel_is_doubted() -> None:
    """An eighth of 8 kg within a fifth of 1,000 g needs no question; outside, the sentence says
    what was expected and what it may mean.
    """
    expected = expected_piece(8000, eighths()[0])
    assert [expected.doubt(g) is None for g in (799, 800, 1000, 1200, 1201)] == [
        False,
        True,
        True,
        True,
        False,
    ]
    doubt = expected.doubt(1400)
    assert doubt is not None
    for part in ("1400 g", "800 to 1200 g", "wheel of 8000 g", "another wheel"):
        assert part in doubt


def test_a_lot_only_loses() -> None:
    """Since it was last weighed a wheel may have lost up to the given share, and gained nothing
    but what two scales differ by.
    """
    expected = expected_of_lot(11_000, most_loss_pct=30, gain_g=20)
    assert (expected.least_g, expected.most_g) == (7700, 11_020)
    for percent in (-1, 101):
        with pytest.raises(InvalidInputError, match="percentage"):
            expected_of_lot(11_000, most_loss_pct=percent)
