"""Places of pieces in a wheel: sectors of a cylinder, in whole degrees, and a layer."""

from typing import NamedTuple

__all__ = ["Place", "overlapping"]


class Place(NamedTuple):
    """A sector from one angle to another (clockwise, 0 to 360) of one layer or all."""

    from_deg: int
    to_deg: int
    layer: str

    @classmethod
    def parse(cls, text: str) -> "Place":
        """Read what :meth:`text` wrote."""
        from_deg, to_deg, layer = text.split("-")
        return cls(int(from_deg), int(to_deg), layer)

    @property
    def text(self) -> str:
        """The place as one word, ``0-45-whole``."""
        return f"{self.from_deg}-{self.to_deg}-{self.layer}"

    def arcs(self) -> tuple[tuple[int, int], ...]:
        """Give the sector as one arc, or two where it passes through 0."""
        if self.from_deg < self.to_deg:
            return ((self.from_deg, self.to_deg),)
        return ((self.from_deg, 360), (0, self.to_deg))


def overlapping(one: Place, other: Place) -> bool:
    """Tell whether two places share any of the wheel; touching edges do not."""
    if "whole" not in (one.layer, other.layer) and one.layer != other.layer:
        return False
    return any(
        max(a_from, b_from) < min(a_to, b_to)
        for a_from, a_to in one.arcs()
        for b_from, b_to in other.arcs()
    )
