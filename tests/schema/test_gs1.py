"""GS1 keys: check digits against published values, python-stdnum and biip."""

import biip
import pytest
from biip.gtin import Gtin
from biip.sscc import Sscc
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean

from rindline_schema.gs1 import gln_fault, gs1_check_digit, gtin_fault, sscc, sscc_fault

# GS1's own unit tests (GS1 Syntax Dictionary and resolver projects), as listed in this project's
# check-values.md; 9520... is the prefix GS1 keeps for examples.
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
_WRONG_GTINS = ["12345673", "416000336109", "1234567890129", "12345678901232"]
_WRONG_SSCC = "123456789012345670"
# Constructed; python-stdnum and biip accept it: a GTIN-14 for goods of variable measure.
_VARIABLE = "90614141123455"


@pytest.mark.parametrize("gtin", [*_GTINS, _VARIABLE])
def test_published_gtins_pass(gtin: str) -> None:
    """Ours, python-stdnum and biip all take them."""
    assert gtin_fault(gtin) is None
    assert ean.is_valid(gtin)
    assert Gtin.parse(gtin).value == gtin
    assert gs1_check_digit(gtin[:-1]) == gtin[-1]


@pytest.mark.parametrize("gtin", _WRONG_GTINS)
def test_wrong_gtins_fail(gtin: str) -> None:
    """Ours, python-stdnum and biip all reject them."""
    assert gtin_fault(gtin) == f"{gtin!r} fails the GS1 check digit"
    assert not ean.is_valid(gtin)
    with pytest.raises(biip.ParseError):
        Gtin.parse(gtin)


def test_an_element_string_with_a_wrong_gtin_is_seen_by_both() -> None:
    """(01)09520123456788 passes; with its last digit changed biip reports it in the message, and
    so do we. Both of biip's error fields are looked at: a message may parse around a bad GTIN."""
    right = biip.parse("0109520123456788")
    assert (right.gs1_message_error, right.gtin_error) == (None, None)
    assert gtin_fault("09520123456788") is None
    wrong = biip.parse("0109520123456789")
    assert wrong.gs1_message_error or wrong.gtin_error
    assert gtin_fault("09520123456789") is not None


@pytest.mark.parametrize("code", _SSCCS)
def test_published_ssccs_pass(code: str) -> None:
    """Ours and biip take them; biip's message parser finds neither GS1 nor GTIN error in them."""
    assert sscc_fault(code) is None
    assert Sscc.parse(code).value == code
    result = biip.parse(f"00{code}")
    assert result.gs1_message_error is None
    assert result.sscc is not None
    assert result.sscc.value == code


def test_a_wrong_sscc_fails() -> None:
    """Ours and biip reject it."""
    assert sscc_fault(_WRONG_SSCC) == f"{_WRONG_SSCC!r} fails the GS1 check digit"
    with pytest.raises(biip.ParseError):
        Sscc.parse(_WRONG_SSCC)


@pytest.mark.parametrize(
    "text", ["", "123", "952012345678A", "9520123456788\n", "٩520123456788", "952012345678 8"]
)
def test_what_is_not_digits_of_the_right_number_is_no_key(text: str) -> None:
    """Too few, letters, line ends, digits of another script, blanks."""
    assert gtin_fault(text) is not None
    assert gln_fault(text) is not None
    assert sscc_fault(text) is not None


def test_a_gln_has_thirteen_digits() -> None:
    """A GTIN-8 is none, though its check digit is right."""
    assert gln_fault("9520123456788") is None
    assert gln_fault("02345673") == "'02345673' is not a GLN of 13 digits"
    assert gln_fault("9520123456789") == "'9520123456789' fails the GS1 check digit"


@given(st.text("0123456789", min_size=12, max_size=12))
def test_check_digits_equal_python_stdnum(digits: str) -> None:
    """For any twelve digits."""
    assert gs1_check_digit(digits) == ean.calc_check_digit(digits)


@given(st.integers(0, 9), st.text("0123456789", min_size=4, max_size=12), st.data())
def test_a_built_sscc_is_well_formed(extension: int, prefix: str, data: st.DataObject) -> None:
    """Any extension digit, prefix and serial that fit: biip takes the code apart again."""
    serial = data.draw(st.integers(0, 10 ** (16 - len(prefix)) - 1))
    code = sscc(extension, prefix, serial)
    assert sscc_fault(code) is None
    assert Sscc.parse(code).value == code
    assert code.startswith(f"{extension}{prefix}")
    assert int(code[1 + len(prefix) : -1]) == serial


@pytest.mark.parametrize(
    ("extension", "prefix", "serial"),
    [
        (10, "952012", 1),
        (3, "952012", 10**10),
        (3, "952012", -1),
        (3, "95201A", 1),
        (3, "9" * 20, 1),
    ],
)
def test_what_does_not_fit_an_sscc_is_refused(extension: int, prefix: str, serial: int) -> None:
    """An extension of two digits, a serial too long or negative, a letter, a prefix too long."""
    with pytest.raises(ValueError, match="do not make 17 digits"):
        sscc(extension, prefix, serial)
