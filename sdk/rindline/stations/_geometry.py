"""Places in a wheel and what a piece from there should weigh. Pure.

A wheel is a cylinder of one density: a sector of it weighs as many grams of the wheel's as it has
degrees of the round, and the upper or lower half of a wheel that was halved across weighs half.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from rindline.errors import InvalidInputError
from rindline_schema.events import Place

__all__ = ["Layer", "eighths", "halves", "predicted_mass_g", "quarters_of_halves", "wedges"]

Layer = Literal["whole", "upper", "lower"]


def wedges(degrees: int, layers: Sequence[Layer] = ("whole",)) -> list[Place]:
    """Give the places of equal wedges of so many degrees, layer by layer.

    ``degrees`` must divide the round (360) evenly: raises :class:`rindline.InvalidInputError`.
    """
    if not 1 <= degrees <= 360 or 360 % degrees:
        raise InvalidInputError(f"Wedges of {degrees} degrees do not fill the round of 360.")
    if not layers or (len(layers) > 1 and sorted(layers) != ["lower", "upper"]):
        raise InvalidInputError("A wheel is cut as a whole, or its upper and lower half.")
    return [
        Place(from_deg=start, to_deg=start + degrees, layer=layer)
        for layer in layers
        for start in range(0, 360, degrees)
    ]


def halves() -> list[Place]:
    """Give two halves, cut from top to base."""
    return wedges(180)


def eighths() -> list[Place]:
    """Give eight pieces, cut from top to base."""
    return wedges(45)


def quarters_of_halves() -> list[Place]:
    """Give the eight pieces of a tall wheel halved across and then quartered."""
    return wedges(90, ("upper", "lower"))


def predicted_mass_g(wheel_g: int, place: Place) -> int:
    """Give what a piece from this place should weigh, in grams, of a wheel of ``wheel_g``.

    ``wheel_g`` is the mass of the whole wheel, before anything was cut from it. A place may pass
    through 0 degrees. Rounded to the nearest gram, a half to the even one.
    """
    degrees = place.to_deg - place.from_deg
    if degrees <= 0:
        degrees += 360
    share = Fraction(degrees, 360) / (1 if place.layer == "whole" else 2)
    return round(wheel_g * share)
