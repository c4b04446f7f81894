"""Grams and pieces in one place, while a lot's entries are gone through in order of time."""

__all__ = ["Load"]


class Load:
    """What lies in one place, and how much is known of what came there.

    ``was_brought``: something is known to have come here. ``is_open``: something came of which
    nobody has said how much, so that a shortage proves nothing. ``short_g`` and ``short_count``:
    by how much more than there was has been taken already.
    """

    __slots__ = (
        "count",
        "is_open",
        "mass_g",
        "room",
        "short_count",
        "short_g",
        "to_site",
        "was_brought",
    )

    def __init__(self) -> None:
        """Start with nothing."""
        self.mass_g = 0
        self.count = 0
        self.room: str | None = None
        self.to_site: str | None = None
        self.was_brought = False
        self.is_open = False
        self.short_g = 0
        self.short_count = 0

    @property
    def is_sure(self) -> bool:
        """Whether what is missing here was certainly not brought by a fact still to come."""
        return self.was_brought and not self.is_open

    def bring(self, mass_g: int, count: int) -> None:
        """Add what came."""
        self.mass_g += mass_g
        self.count += count
        self.was_brought = self.was_brought or mass_g > 0

    def take(self, mass_g: int | None, count: int | None) -> tuple[int, int]:
        """Take grams and pieces; where one is not said it follows from the other, or is all."""
        if mass_g is None:
            mass_g = self._grams_of(count)
        if count is None:
            count = self._pieces_of(mass_g)
        self.mass_g -= mass_g
        self.count -= count
        return mass_g, count

    def _grams_of(self, count: int | None) -> int:
        whole_g = max(self.mass_g, 0)
        if count is not None and 0 < count < self.count:
            return (whole_g * count * 2 + self.count) // (self.count * 2)
        return whole_g

    def _pieces_of(self, mass_g: int) -> int:
        if mass_g <= 0:
            return 0
        if mass_g < self.mass_g:
            return max(self.count, 0) * mass_g // self.mass_g
        return max(self.count, 0)

    def empty(self) -> int:
        """Take all that is left, be it less than nothing, and give its grams."""
        left_g = self.mass_g
        self.mass_g = self.count = self.short_g = self.short_count = 0
        return left_g

    def shortage(self) -> tuple[int, int]:
        """Give grams and pieces missing now that were not missing before, and note them."""
        more_g = max(-self.mass_g - self.short_g, 0)
        more_count = max(-self.count - self.short_count, 0)
        self.short_g += more_g
        self.short_count += more_count
        return more_g, more_count
