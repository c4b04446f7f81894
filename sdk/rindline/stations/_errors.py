"""What a station's devices raise."""

from rindline.errors import RindlineError

__all__ = ["DoubtfulMassError", "ScaleError", "ScaleGoneError", "ScaleTimeoutError"]


class ScaleError(RindlineError):
    """Anything a scale raises."""


class ScaleGoneError(ScaleError):
    """The scale's port cannot be opened, or was lost. A :class:`Scale` opens it again itself."""


class ScaleTimeoutError(ScaleError):
    """No mass stood still in the time that was given."""


class DoubtfulMassError(ScaleError):
    """The mass lies outside what was expected, and nobody was there to confirm it.

    ``mass_g`` is the mass that stood on the scale; nothing was taken.
    """

    def __init__(self, message: str, mass_g: int) -> None:
        super().__init__(message)
        self.mass_g = mass_g
