"""How far two weighings of the same thing may differ before it means something."""

from typing import NamedTuple

__all__ = ["ScaleTolerance"]


class ScaleTolerance(NamedTuple):
    """The larger of ``least_g`` grams and ``permille`` thousandths of the mass.

    The default, 10 g or 0.5 %, is a setting of the business (common practice, no source).
    """

    least_g: int = 10
    permille: int = 5

    def of(self, mass_g: int) -> int:
        """Give the tolerance in grams for a mass in grams."""
        return max(self.least_g, mass_g * self.permille // 1000)
