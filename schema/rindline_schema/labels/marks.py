"""The identification mark: Regulation (EC) No 853/2004, annex II, section I, part B."""

from rindline_schema.labels.content import LabelMark
from rindline_schema.labels.words import Words

__all__ = ["identification_mark"]

# ISO 3166-1 codes of the member states (Greece is GR; EL is also met) and Northern Ireland,
# whose marks bear the abbreviation of the Community as well. From memory, 2026.
_IN_UNION = (
    "AT BE BG CY CZ DE DK EE EL ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK UK(NI)"
)


def identification_mark(approval_number: str, words: Words) -> LabelMark:
    """Part an approval number such as ``XQ 0101`` into the lines of the oval.

    The country's code comes first; the abbreviation of the Community, in the label's language,
    stands below for an establishment inside it. Raises ValueError if no country's code is there.
    """
    country, _, number = approval_number.strip().partition(" ")
    if number.strip() == "" or not (country.isupper() and 2 <= len(country) <= 7):
        raise ValueError(
            f"approval number {approval_number!r} does not begin with a country's code and a space"
        )
    union = words.union if country in _IN_UNION.split() else ""
    return LabelMark(country=country, number=number.strip(), union=union)
