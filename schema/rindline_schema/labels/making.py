"""From facts to what stands on the label."""

from rindline_schema.gs1 import DIGITAL_LINK_BASE
from rindline_schema.labels.best_before import BestBefore, BestBeforeForm, best_before
from rindline_schema.labels.content import LabelContent, LabelField
from rindline_schema.labels.facts import LabelFacts, label_fault
from rindline_schema.labels.marks import identification_mark
from rindline_schema.labels.symbols import label_symbols
from rindline_schema.labels.words import WORDS, Words

__all__ = ["make_label"]

_MOST_CODES = 3


def make_label(
    facts: LabelFacts,
    *,
    form: BestBeforeForm = "day",
    link_base: str = DIGITAL_LINK_BASE,
    words: Words | None = None,
) -> LabelContent:
    """Write a label, in the language of the product's entry.

    ``words`` stands in for a language that :data:`WORDS` does not have. Raises ValueError, with
    all that is wrong, if the facts do not make a label.
    """
    fault = label_fault(facts)
    if fault is not None:
        raise ValueError(fault)
    language = facts.product.language
    said = words or WORDS.get(language)
    if said is None:
        known = ", ".join(sorted(WORDS))
        raise ValueError(f"there is no wording for {language!r}, only for {known}: pass your own")
    until = _until(facts, said, form)
    product, site, business = facts.product, facts.site, facts.business or facts.site
    number = site.approval_number
    return LabelContent(
        kind=facts.kind,
        language=language,
        title=product.name,
        food_name=product.label_name or "",
        code_title=said.case if facts.kind == "case" else said.lot,
        code=facts.case or facts.lot or "",
        quantity=_quantity(facts, said),
        quantity_mm=_quantity_mm(facts),
        symbols=label_symbols(facts, until.day if until else None, link_base),
        fields=_fields(facts, said, until),
        allergens_title=said.contains if product.allergens else "",
        allergens=product.allergens,
        mark=identification_mark(number, said) if number else None,
        business=[business.name, *_lines(business.address)],
    )


def _until(facts: LabelFacts, words: Words, form: BestBeforeForm) -> BestBefore | None:
    if facts.keeps_until is None or facts.from_day is None:
        return None
    return best_before(facts.from_day, facts.keeps_until, words, form)


def _lines(address: str | None) -> list[str]:
    return [line.strip() for line in (address or "").splitlines() if line.strip()]


def _quantity(facts: LabelFacts, words: Words) -> LabelField:
    parts = []
    if facts.total_count > 1 or facts.kind == "case":
        parts.append(words.number_of(facts.total_count))
    if facts.net_mass_g is not None:
        parts.append(words.mass(facts.net_mass_g))
    return LabelField(key="quantity", title=words.net, text=", ".join(parts))


def _quantity_mm(facts: LabelFacts) -> int:
    """Give the least height of a nominal quantity's figures: Directive 76/211/EEC, annex I, 3.1.

    It holds for prepackages of constant quantity only, and is known here from memory.
    """
    mass_g = facts.net_mass_g
    if facts.kind != "portion" or facts.product.weight != "fixed" or mass_g is None:
        return 0
    return next(mm for most, mm in ((50, 2), (200, 3), (1000, 4), (mass_g, 6)) if mass_g <= most)


def _fields(facts: LabelFacts, words: Words, until: BestBefore | None) -> list[LabelField]:
    product = facts.product
    milk = words.milk(product.milk_treatment) if product.milk_treatment else ""
    if milk and product.milk_from:
        milk = f"{milk}: {product.milk_from}"
    found = [
        LabelField(key="best_before", title=until.words, text=until.text) if until else None,
        _day_field("packed", words.packed, words, facts),
        _day_field("made", words.made, words, facts),
        _codes_field("wheels", words.wheel, facts.wheels),
        _codes_field("makes", words.make, facts.makes),
        _codes_field("contents", words.contents, [item.lot for item in facts.contents]),
        LabelField(key="milk", text=milk) if milk else None,
        LabelField(key="storage", text=product.storage) if product.storage else None,
    ]
    return [field for field in found if field is not None]


def _day_field(key: str, title: str, words: Words, facts: LabelFacts) -> LabelField | None:
    day = facts.packed_on if key == "packed" else facts.made_on
    return LabelField(key=key, title=title, text=words.day(day)) if day else None


def _codes_field(key: str, title: str, codes: list[str]) -> LabelField | None:
    """Name the first few codes and how many more there are: a blend may have dozens."""
    if not codes:
        return None
    distinct = list(dict.fromkeys(codes))
    more = f" +{len(distinct) - _MOST_CODES}" if len(distinct) > _MOST_CODES else ""
    return LabelField(key=key, title=title, text=", ".join(distinct[:_MOST_CODES]) + more)
