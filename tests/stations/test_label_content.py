"""What a label says: best-before wording, languages, marks, and facts that do not make a label."""

from datetime import date
from typing import Any

import pytest
from msgspec.structs import replace

from rindline_schema.labels import (
    WORDS,
    CaseContent,
    LabelContent,
    best_before,
    identification_mark,
    make_label,
)
from rindline_schema.labels import BestBeforeForm as Form
from tests.stations.label_samples import (
    CASE_FACTS,
    MAKE,
    PACKED,
    PORTION,
    PORTION_FACTS,
    SITE,
    WEDGE,
    WHEEL,
    WHEEL_FACTS,
    code,
)


def _said(content: LabelContent) -> dict[str, str]:
    return {field.key: f"{field.title} {field.text}".strip() for field in content.fields}


# Regulation (EU) No 1169/2011, annex X, point 1(c): up to 3 months day and month suffice, up to 18
# months month and year, beyond that the year. The edges are counted in calendar months, which is
# our reading.
@pytest.mark.parametrize(
    ("packed", "until", "form", "words", "text", "promised"),
    [
        ("2026-01-15", "2026-04-15", "short", "Best before", "15 April", "2026-04-15"),
        ("2026-01-15", "2026-04-16", "short", "Best before end", "March 2026", "2026-03-31"),
        ("2025-11-30", "2026-02-28", "short", "Best before", "28 February", "2026-02-28"),
        ("2026-01-15", "2026-09-30", "short", "Best before end", "September 2026", "2026-09-30"),
        ("2026-01-15", "2027-07-15", "short", "Best before end", "June 2027", "2027-06-30"),
        ("2026-01-15", "2027-07-16", "short", "Best before end", "2026", "2026-12-31"),
        ("2026-01-15", "2027-12-31", "short", "Best before end", "2027", "2027-12-31"),
        ("2026-01-15", "2027-12-31", "day", "Best before", "31 December 2027", "2027-12-31"),
        ("2026-01-15", "2026-01-15", "day", "Best before", "15 January 2026", "2026-01-15"),
    ],
)
def test_best_before_wording(
    packed: str, until: str, form: Form, words: str, text: str, promised: str
) -> None:
    """The least wording the regulation asks for at each edge; no wording promises a later day."""
    day = date.fromisoformat(until)
    worded = best_before(date.fromisoformat(packed), day, WORDS["en"], form)
    assert worded == (words, text, date.fromisoformat(promised))
    assert worded.day <= day


def test_nothing_keeps_until_before_it_was_packed() -> None:
    """A best-before date before the day of packing is a typing error, not a label."""
    with pytest.raises(ValueError, match="lies before"):
        best_before(date(2026, 2, 1), date(2026, 1, 31), WORDS["en"])


# The phrases are those of annex X in the three languages; dates as each writes them, common
# practice, no source.
@pytest.mark.parametrize(
    ("language", "day", "short", "mass"),
    [
        ("en", "Best before 1 May 2026", "Best before end April 2027", "1.750 kg"),
        ("de", "Mindestens haltbar bis 1. Mai 2026", "bis Ende April 2027", "1,750 kg"),
        ("fr", "avant le 1er mai 2026", "avant fin avril 2027", "1,750 kg"),
    ],
)
def test_each_language_has_its_own_words(language: str, day: str, short: str, mass: str) -> None:
    """Dates, phrases and decimal marks follow the language of the product's entry."""
    words = WORDS[language]
    until = best_before(date(2026, 3, 1), date(2026, 5, 1), words)
    assert f"{until.words} {until.text}".endswith(day)
    later = best_before(date(2026, 3, 1), date(2027, 5, 1), words, "short")
    assert f"{later.words} {later.text}".endswith(short)
    assert words.mass(1750) == mass
    assert words.mass(999) == "999 g"
    assert len(set(words.months)) == 12
    assert "" not in words


def test_a_portion_label_says_what_it_must() -> None:
    """Name, wheel and make, net mass, days, storage, allergens, milk, mark and business."""
    content = make_label(PORTION_FACTS)
    assert (content.title, content.food_name) == (WEDGE.name, WEDGE.label_name)
    assert (content.code_title, content.code) == ("Lot", PORTION)
    assert (content.quantity.title, content.quantity.text) == ("Net", "187 g")
    assert _said(content) == {
        "best_before": "Best before 19 May 2026",
        "packed": "Packed 14 April 2026",
        "wheels": f"Wheel {WHEEL}",
        "makes": f"Make {MAKE}",
        "milk": "Made with pasteurised milk: cows",
        "storage": "Keep refrigerated at 2 to 8 °C.",
    }
    assert (content.allergens_title, content.allergens) == ("Contains", ["milk"])
    assert content.mark is not None
    assert (content.mark.country, content.mark.number, content.mark.union) == ("XQ", "0103", "")
    assert content.business == [SITE.name, "Unit 4, Tarrowgate Yard", "Quillmere"]


def test_a_wheel_and_a_case_say_what_they_are() -> None:
    """A wheel was made, a case holds pieces of a lot; raw milk is named (853/2004, annex III)."""
    wheel = _said(make_label(WHEEL_FACTS))
    assert wheel["made"] == "Made 3 February 2026"
    assert wheel["milk"] == "Made with raw milk"
    case = make_label(CASE_FACTS)
    assert (case.code_title, case.quantity.text) == ("Case", "12 pieces, 2.244 kg")
    assert _said(case)["contents"] == f"Contents {PORTION}"


def test_the_date_in_the_symbol_is_the_one_in_words() -> None:
    """Worded by month, the symbol holds the last day that the words promise, no later one."""
    facts = replace(PORTION_FACTS, best_before=date(2026, 9, 12))
    content = make_label(facts, form="short")
    assert _said(content)["best_before"] == "Best before end August 2026"
    assert ("15", "260831") in content.symbols[0].elements


def test_the_mark_of_the_union() -> None:
    """The oval bears the Community's abbreviation inside it, in the language of the label
    (853/2004, annex II, section I, part B, point 8), and none outside.
    """
    assert identification_mark("DE NW 20045", WORDS["de"]).union == "EG"
    assert identification_mark("FR 01.234.567", WORDS["fr"]).union == "CE"
    assert identification_mark("UK(NI) 123", WORDS["en"]).union == "EC"
    assert identification_mark("GB AB 123", WORDS["en"]).union == ""
    for wrong in ("0103", "XQ", "quillmere 1", ""):
        with pytest.raises(ValueError, match="country"):
            identification_mark(wrong, WORDS["en"])


def test_a_constant_pack_has_tall_figures() -> None:
    """Directive 76/211/EEC, annex I, 3.1 (from memory): 2, 3, 4 and 6 mm by nominal quantity."""
    heights = {}
    for mass_g in (50, 51, 200, 201, 1000, 1001):
        product = replace(WEDGE, weight="fixed", net_mass_g=mass_g, gtin=None)
        facts = replace(PORTION_FACTS, product=product, mass_g=None)
        heights[mass_g] = make_label(facts).quantity_mm
    assert heights == {50: 2, 51: 3, 200: 3, 201: 4, 1000: 4, 1001: 6}
    assert make_label(PORTION_FACTS).quantity_mm == 0


def test_a_long_list_of_wheels_is_cut() -> None:
    """A blend's label names three wheels and says how many more there are."""
    wheels = [code("QM", PACKED, "wheel", n) for n in range(1, 6)]
    said = _said(make_label(replace(PORTION_FACTS, wheels=wheels)))
    assert said["wheels"] == f"Wheel {', '.join(wheels[:3])} +2"


def test_a_case_of_several_lots_names_none_in_its_symbols() -> None:
    """No one lot may stand for others: the SSCC and the record tell them apart."""
    other = code("QC", PACKED, "portion", 500)
    contents = [*CASE_FACTS.contents, CaseContent(lot=other, count=3, mass_g=600)]
    content = make_label(replace(CASE_FACTS, contents=contents))
    identifiers = [ai for ai, _ in content.symbols[0].elements]
    assert identifiers == ["00", "02", "37", "15", "3103"]
    assert _said(content)["contents"] == f"Contents {PORTION}, {other}"
    assert content.quantity.text == "15 pieces, 2.844 kg"


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"lot": PORTION[:-1] + "0"}, "check character"),
        ({"lot": None}, "needs a lot"),
        ({"lot": WHEEL}, "does not fit"),
        ({"product": replace(WEDGE, kind="blend")}, "is a portion, but"),
        ({"mass_g": None}, "mass is missing"),
        ({"mass_g": 0}, "no mass"),
        ({"count": 0}, "number of pieces"),
        ({"wheels": ["QM1"]}, "shape"),
        ({"product": replace(WEDGE, gtin="9529001000045")}, "check digit"),
        ({"product": replace(WEDGE, weight="fixed")}, "variable measure"),
        ({"packed_on": None, "best_before": date(2026, 5, 1)}, "needs the day"),
        ({"product": replace(WEDGE, language="xx")}, "no wording"),
        ({"site": replace(SITE, approval_number="0103")}, "country"),
        ({"case": "0" * 18}, "neither case"),
    ],
)
def test_facts_that_make_no_label(changes: dict[str, Any], why: str) -> None:
    """Each is refused before anything is drawn, with what is wrong."""
    with pytest.raises(ValueError, match=why):
        make_label(replace(PORTION_FACTS, **changes))


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"case": "123456789012345670"}, "check digit"),
        ({"case": None}, "SSCC"),
        ({"contents": []}, "contents"),
        ({"contents": [CaseContent(lot=PORTION, count=0, mass_g=1)]}, "no contents"),
        ({"contents": [CaseContent(lot=MAKE, count=1, mass_g=1)]}, "does not fit"),
    ],
)
def test_facts_that_make_no_case(changes: dict[str, Any], why: str) -> None:
    """The same for a case and what lies in it."""
    with pytest.raises(ValueError, match=why):
        make_label(replace(CASE_FACTS, **changes))


def test_another_language_brings_its_own_words() -> None:
    """A language without a table is printed with words handed in."""
    product = replace(WEDGE, language="xx")
    content = make_label(
        replace(PORTION_FACTS, product=product), words=WORDS["en"]._replace(packed="Zapakirano")
    )
    assert _said(content)["packed"] == "Zapakirano 14 April 2026"
