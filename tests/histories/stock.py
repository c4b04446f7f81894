"""Where goods really are in a history: kept apart from the ledger, which must find it out.

Grams and pieces lie loose at a site, in a case, on the way under a document, or with a partner.
"""

from dataclasses import dataclass, field

__all__ = ["Amount", "Case", "Goods", "Load"]


@dataclass
class Amount:
    """Grams and pieces."""

    mass_g: int = 0
    count: int = 0

    def add(self, other: "Amount") -> None:
        self.mass_g += other.mass_g
        self.count += other.count

    def part(self, mass_g: int, count: int) -> "Amount":
        """Take some away and give it."""
        assert 0 <= mass_g <= self.mass_g
        assert 0 <= count <= self.count
        self.mass_g -= mass_g
        self.count -= count
        return Amount(mass_g, count)

    def all(self) -> "Amount":
        return self.part(self.mass_g, self.count)


@dataclass
class Goods:
    """One lot, and what of it lies loose where."""

    lot: str
    kind: str
    parents: tuple[str, ...]
    loose: dict[str, Amount] = field(default_factory=dict)
    partners: dict[str, Amount] = field(default_factory=dict)
    free_from_deg: int = 0
    is_set_aside: bool = False

    def at(self, site: str) -> Amount:
        return self.loose.setdefault(site, Amount())


@dataclass
class Case:
    """A case: what is in it, and where it is (a site, a partner, or nowhere: on the way)."""

    sscc: str
    inside: dict[str, Amount] = field(default_factory=dict)
    site: str | None = None
    partner: str | None = None


@dataclass
class Load:
    """What is on the way to another site of ours."""

    document: str
    to_site: str
    lots: dict[str, Amount] = field(default_factory=dict)
    cases: list[str] = field(default_factory=list)
