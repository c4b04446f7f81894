"""What a mass should be, and what to say if it is not. Pure."""

from dataclasses import dataclass

from rindline.errors import InvalidInputError
from rindline.stations._geometry import predicted_mass_g
from rindline_schema.events import Place

__all__ = ["Expected", "expected_of_lot", "expected_piece"]


@dataclass(frozen=True, slots=True)
class Expected:
    """The masses that need no question, in grams, both ends included, and where that is from.

    ``otherwise`` is what a mass outside may mean.
    """

    least_g: int
    most_g: int
    because: str
    otherwise: str

    def doubt(self, mass_g: int) -> str | None:
        """Say what is doubtful about a mass, in one sentence; None if nothing is."""
        if self.least_g <= mass_g <= self.most_g:
            return None
        return (
            f"{mass_g} g lies outside {self.least_g} to {self.most_g} g, as {self.because}: "
            f"{self.otherwise}."
        )


def expected_piece(wheel_g: int, place: Place, *, tolerance_pct: int = 20) -> Expected:
    """Expect a piece from a place of a wheel of ``wheel_g`` (whole, before cutting).

    A hand's cut is not a protractor's, hence the tolerance, in % of the predicted mass; its
    default is a choice of ours, not a published figure.
    """
    _check_percent(tolerance_pct)
    predicted_g = predicted_mass_g(wheel_g, place)
    spread_g = -(-predicted_g * tolerance_pct // 100)
    return Expected(
        predicted_g - spread_g,
        predicted_g + spread_g,
        f"{place.from_deg} to {place.to_deg} degrees, {place.layer}, of a wheel of {wheel_g} g "
        f"should weigh about {predicted_g} g",
        "it may be another wheel's, or from another place",
    )


def expected_of_lot(last_g: int, *, most_loss_pct: int = 30, gain_g: int = 20) -> Expected:
    """Expect a lot that weighed ``last_g`` when it was last known.

    It loses at most ``most_loss_pct`` since (from hooping to nine weeks about 27 %: common
    practice, no source) and gains nothing but what two scales may differ by.
    """
    _check_percent(most_loss_pct)
    return Expected(
        last_g - last_g * most_loss_pct // 100,
        last_g + gain_g,
        f"the lot last weighed {last_g} g",
        "it may be another wheel, or something else lies on the scale",
    )


def _check_percent(percent: int) -> None:
    if not 0 <= percent <= 100:
        raise InvalidInputError(f"{percent} is not a percentage from 0 to 100.")
