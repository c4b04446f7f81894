"""GS1 values as GS1 publishes them: check digits, element strings, Digital Link URIs."""

import re
from datetime import date

import pytest
from biip.gs1_messages import GS1Message
from biip.gtin import Gtin
from stdnum import ean

from rindline_schema.gs1 import (
    FNC1,
    Element,
    date_of_element,
    digital_link,
    element_fault,
    element_faults,
    element_string,
    element_text,
    gs1_check_digit,
    gtin_fault,
    mass_element,
    mass_of_element,
    parse_digital_link,
    parse_elements,
    sscc_fault,
)

# GS1's own unit tests of its check digit: in the GS1 Barcode Syntax Dictionary and the check
# digit calculator of gs1.org.
_GTINS = [
    "6291041500213",
    "1234567890128",
    "9520123456788",
    "02345673",
    "416000336108",
    "12345678901231",
    "09520123456788",
]
_SSCCS = ["123456789012345675", "952012345678912345"]
_WRONG = ["12345673", "416000336109", "1234567890129", "12345678901232"]


def _elements(text: str) -> list[Element]:
    """Read the bracketed form that the values are published in."""
    pairs = [part.partition(")") for part in text.split("(")[1:]]
    return [Element(ai, value) for ai, _, value in pairs]


@pytest.mark.parametrize("gtin", _GTINS)
def test_published_gtins_pass(gtin: str) -> None:
    """GS1's own examples pass, their last digit is the one computed, and python-stdnum agrees."""
    assert gtin_fault(gtin) is None
    assert gs1_check_digit(gtin[:-1]) == gtin[-1] == ean.calc_check_digit(gtin[:-1])


@pytest.mark.parametrize("code", _SSCCS)
def test_published_ssccs_pass(code: str) -> None:
    """GS1's own examples of an SSCC pass."""
    assert sscc_fault(code) is None


@pytest.mark.parametrize("gtin", _WRONG)
def test_wrong_check_digits_are_found(gtin: str) -> None:
    """The values that GS1's unit tests name as wrong fail."""
    assert "check digit" in (gtin_fault(gtin) or "")


def test_a_wrong_sscc_is_found() -> None:
    """The SSCC that GS1's unit tests name as wrong fails."""
    assert "check digit" in (sscc_fault("123456789012345670") or "")


# GS1 General Specifications and GS1's Digital Link toolkit; `^` stands for FNC1, and the one that
# opens a symbol is not in our string. The last is constructed; biip reads it the same way.
_STRINGS = [
    ("(01)09520123456788(10)ABC123", "010952012345678810ABC123"),
    ("(01)09520123456788(10)ABC1(21)12345(17)180426", "01095201234567881718042610ABC1^2112345"),
    ("(01)09520123456788(3103)000195", "01095201234567883103000195"),
    (
        "(00)952012345678912345(02)09520123456788(37)25(10)ABC123",
        "0095201234567891234502095201234567883725^10ABC123",
    ),
    ("(01)90614141123455(3103)001750(15)270131(10)B1", "019061414112345531030017501527013110B1"),
]


@pytest.mark.parametrize(("text", "string"), _STRINGS)
def test_element_strings_are_the_published_ones(text: str, string: str) -> None:
    """Predefined lengths first, a separator only where it is needed, and back again."""
    elements = _elements(text)
    written = element_string(elements)
    assert written.replace(FNC1, "^") == string
    assert sorted(parse_elements(written)) == sorted(elements)
    assert sorted(parse_elements(f"]d2{written}")) == sorted(elements)
    assert sorted(_elements(element_text(elements))) == sorted(elements)


@pytest.mark.parametrize(("text", "string"), _STRINGS)
def test_biip_reads_our_strings_alike(text: str, string: str) -> None:
    """An independent reader finds the same identifiers and values in what we write."""
    message = GS1Message.parse(element_string(_elements(text)))
    found = {str(part.ai.ai): part.value for part in message.element_strings}
    assert found == dict(_elements(text))


@pytest.mark.parametrize("ai", ["7003", "422", "426"])
def test_a_fixed_length_is_not_a_predefined_one(ai: str) -> None:
    """7003, 422 and 426 have a fixed length and still need the separator (General
    Specifications, figure 7.8.5-1 lists the predefined ones by their first two digits).
    """
    value = {"7003": "2605191200", "422": "250", "426": "250"}[ai]
    text = element_string([Element("01", "09520123456788"), Element(ai, value), Element("10", "B")])
    assert text == f"0109520123456788{ai}{value}{FNC1}10B"
    assert parse_elements(text)[1] == Element(ai, value)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("(37)25(00)952012345678912345", "(37) COUNT must stand with (02)"),
        ("(37)25(02)09520123456788", "(37) COUNT must stand with (00)"),
        ("(02)09520123456788(00)952012345678912345", "(02) CONTENT must stand with (37)"),
        ("(01)09520123456788(02)09520123456788(37)1", "may not stand with (02)"),
        ("(10)ABC", "must stand with (01) or (02)"),
        ("(01)90614141123455(10)B1", "no net weight"),
        ("(01)09520123456788(10)A(10)B", "twice"),
        ("(01)09520123456789", "check digit"),
        ("(01)9520123456788", "has 14 characters"),
        ("(01)09520123456788(15)261301", "month 13"),
        ("(01)09520123456788(15)260230", "day 30"),
        ("(01)09520123456788(7003)2605002400", "day 0"),
        ("(01)09520123456788(7003)2605192400", "time of day"),
        ("(01)09520123456788(10)A#1", "set of 82"),
        ("(01)09520123456788(10)ABCDEFGHIJKLMNOPQRSTU", "1 to 20"),
        ("(01)09520123456788(99)X", "not an application identifier"),
    ],
)
def test_elements_that_do_not_fit_are_refused(text: str, why: str) -> None:
    """Each rule of the table that a symbol's maker may break is found and named."""
    assert why in "; ".join(element_faults(_elements(text)))
    with pytest.raises(ValueError, match=re.escape(why)):
        element_string(_elements(text))


def test_the_set_of_82_is_the_published_one() -> None:
    """AI 10 takes the 82 characters of GS1's figure 7.11-1 and no other printable one."""
    allowed = "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
    assert len(allowed) == 82
    taken = {c for c in map(chr, range(256)) if element_fault("10", c) is None}
    assert taken == set(allowed)


def test_dates_of_elements() -> None:
    """Day 00 is the last of the month; the century is within 50 years (section 7.12)."""
    near = date(2026, 3, 1)
    assert date_of_element("270131", near) == date(2027, 1, 31)
    assert date_of_element("280200", near) == date(2028, 2, 29)
    assert date_of_element("750101", near) == date(2075, 1, 1)
    assert date_of_element("770101", near) == date(1977, 1, 1)
    assert date_of_element("010101", date(2099, 1, 1)) == date(2101, 1, 1)


def test_masses_of_elements() -> None:
    """(3103)000195 is 0.195 kg and 001750 is 1.750 kg; larger and finer ones keep their value."""
    assert mass_element(195) == ("3103", "000195")
    assert mass_of_element("3103", "001750") == 1750
    assert mass_element(1_234_560) == ("3102", "123456")
    assert mass_of_element("3102", "123456") == 1_234_560
    assert mass_of_element("3100", "000008") == 8000
    assert mass_of_element("3105", "000150") is None
    assert mass_of_element("3105", "000200") == 2
    for grams in (0, -1, 1_234_567, 10_000_000):
        with pytest.raises(ValueError, match="six digits"):
            mass_element(grams)


# GS1 Digital Link standard, URI syntax: examples of the standard and of its test files.
_LINKS = [
    "https://id.gs1.org/01/09520123456788",
    "https://id.gs1.org/01/09520123456788/10/ABC123",
    "https://id.gs1.org/01/09520123456788/10/ABC1/21/12345?17=180426",
    "https://id.gs1.org/01/09520123456788?3103=000195&3922=0299&17=201225",
    "https://id.gs1.org/00/952012345678912345?02=09520123456788&37=25&10=ABC123",
    "https://id.gs1.org/414/9520123456788/254/32a%2Fb",
]


@pytest.mark.parametrize("uri", _LINKS)
def test_published_links_are_read_and_written_alike(uri: str) -> None:
    """Each valid example is read, and written again gives itself."""
    assert digital_link(parse_digital_link(uri)) == uri


@pytest.mark.parametrize(
    ("uri", "why"),
    [
        ("https://id.gs1.org/01/09520123456788?10=ABC123", "belongs in the path"),
        ("https://id.gs1.org/01/09520123456788/10/A/22/B", "in this order"),
        ("https://id.gs1.org/01/09520123456788/21/A/10/B", "in this order"),
        ("https://id.gs1.org/01/09520123456788/10/A/10/B", "each once"),
        ("https://id.gs1.org/01/09520123456788?17=260101&17=260102", "twice"),
        ("https://id.gs1.org/01/09520123456788/99/X", "unknown after"),
        ("https://id.gs1.org/01/09520123456788/15/260101", "does not qualify"),
        ("https://id.gs1.org/01/09520123456788/", "slash"),
        ("https://id.gs1.org/01/09520123456789", "check digit"),
        ("https://id.gs1.org/01/09520123456788?98=X", "not an application identifier"),
        ("https://id.gs1.org/01/09520123456788?17=", "6 characters"),
        ("https://id.gs1.org/cheese", "no primary key"),
        ("ftp://id.gs1.org/01/09520123456788", "web address"),
    ],
)
def test_links_that_are_not_valid_are_refused(uri: str, why: str) -> None:
    """The invalid examples of the standard, and others like them, are refused with the reason."""
    with pytest.raises(ValueError, match=why):
        parse_digital_link(uri)


def test_a_link_is_served_from_any_address() -> None:
    """A business's own address with a path of its own works; parameters that are no AI are left."""
    elements = [Element("01", "09520123456788"), Element("10", "ABC123")]
    uri = digital_link(elements, "https://cheese.example/of/quillmere")
    assert uri == "https://cheese.example/of/quillmere/01/09520123456788/10/ABC123"
    assert parse_digital_link(f"{uri}?linkType=all") == elements
    for base in ("cheese.example", "https://cheese.example/", "https://x.example?a=1"):
        with pytest.raises(ValueError, match="address"):
            digital_link(elements, base)


def test_biip_takes_the_variable_measure_gtin() -> None:
    """90614141123455 (constructed) begins with 9: biip reads it as a GTIN-14 as well."""
    assert str(Gtin.parse("90614141123455").format) == str(Gtin.parse("12345678901231").format)
