"""The words of a label in each language, and how dates and masses are written in it.

Names of products, allergens and storage come from the product's entry, in its own language. The
two best-before phrases are those of Regulation (EU) No 1169/2011, annex X, in each language; the
rest is this project's own wording.
"""

from datetime import date
from typing import NamedTuple

__all__ = ["WORDS", "Words"]


class Words(NamedTuple):
    """One language. ``day_month`` and ``day_month_year`` are patterns over day, month, year."""

    best_before: str
    best_before_end: str
    packed: str
    made: str
    lot: str
    case: str
    wheel: str
    make: str
    contents: str
    net: str
    piece: str
    pieces: str
    contains: str
    raw: str
    thermised: str
    pasteurised: str
    union: str
    months: tuple[str, ...]
    day_month: str
    day_month_year: str
    decimal_mark: str
    first_of_month: str = "1"

    def day(self, day: date, *, year: bool = True) -> str:
        """Write a day, with or without its year."""
        pattern = self.day_month_year if year else self.day_month
        number = self.first_of_month if day.day == 1 else str(day.day)
        return pattern.format(day=number, month=self.months[day.month - 1], year=day.year)

    def month(self, day: date) -> str:
        """Write a day's month and year."""
        return f"{self.months[day.month - 1]} {day.year}"

    def mass(self, mass_g: int) -> str:
        """Write a net mass: grams below 1 kg, from there kilograms to the gram."""
        if mass_g < 1000:
            return f"{mass_g} g"
        return f"{mass_g // 1000}{self.decimal_mark}{mass_g % 1000:03d} kg"

    def number_of(self, count: int) -> str:
        """Write a number of pieces."""
        return f"{count} {self.piece if count == 1 else self.pieces}"

    def milk(self, treatment: str) -> str:
        """Say from what milk: ``raw``, ``thermised`` or ``pasteurised``."""
        return {"raw": self.raw, "thermised": self.thermised}.get(treatment, self.pasteurised)


WORDS: dict[str, Words] = {
    "en": Words(
        best_before="Best before",
        best_before_end="Best before end",
        packed="Packed",
        made="Made",
        lot="Lot",
        case="Case",
        wheel="Wheel",
        make="Make",
        contents="Contents",
        net="Net",
        piece="piece",
        pieces="pieces",
        contains="Contains",
        raw="Made with raw milk",
        thermised="Made with thermised milk",
        pasteurised="Made with pasteurised milk",
        union="EC",
        months=(
            "January",
            "February",
            "March",
            "April",
            "May",
            "June",
            "July",
            "August",
            "September",
            "October",
            "November",
            "December",
        ),
        day_month="{day} {month}",
        day_month_year="{day} {month} {year}",
        decimal_mark=".",
    ),
    "de": Words(
        best_before="Mindestens haltbar bis",
        best_before_end="Mindestens haltbar bis Ende",
        packed="Verpackt am",
        made="Hergestellt am",
        lot="Los",
        case="Kiste",
        wheel="Laib",
        make="Charge",
        contents="Inhalt",
        net="Netto",
        piece="Stück",
        pieces="Stück",
        contains="Enthält",
        raw="Mit Rohmilch hergestellt",
        thermised="Mit thermisierter Milch hergestellt",
        pasteurised="Mit pasteurisierter Milch hergestellt",
        union="EG",
        months=(
            "Januar",
            "Februar",
            "März",
            "April",
            "Mai",
            "Juni",
            "Juli",
            "August",
            "September",
            "Oktober",
            "November",
            "Dezember",
        ),
        day_month="{day}. {month}",
        day_month_year="{day}. {month} {year}",
        decimal_mark=",",
    ),
    "fr": Words(
        best_before="À consommer de préférence avant le",
        best_before_end="À consommer de préférence avant fin",
        packed="Emballé le",
        made="Fabriqué le",
        lot="Lot",
        case="Colis",
        wheel="Meule",
        make="Cuve",
        contents="Contenu",
        net="Poids net",
        piece="pièce",
        pieces="pièces",
        contains="Contient",
        raw="Fabriqué au lait cru",
        thermised="Fabriqué au lait thermisé",
        pasteurised="Fabriqué au lait pasteurisé",
        union="CE",
        months=(
            "janvier",
            "février",
            "mars",
            "avril",
            "mai",
            "juin",
            "juillet",
            "août",
            "septembre",
            "octobre",
            "novembre",
            "décembre",
        ),
        day_month="{day} {month}",
        day_month_year="{day} {month} {year}",
        decimal_mark=",",
        first_of_month="1er",
    ),
}
"""The wording by language code; hand a :class:`Words` of your own to ``make_label`` for others."""
