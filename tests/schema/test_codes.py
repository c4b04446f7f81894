"""Lot codes: shape, check character, and proof against every slip of one or two characters."""

import string
from datetime import date, timedelta
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from rindline_schema.codes import (
    KIND_LETTERS,
    check_character,
    is_lot_code,
    kind_of_code,
    lot_code,
    lot_code_fault,
    lot_code_prefix,
    parse_lot_code,
    split_lot_code,
)

_ALPHABET = string.digits + string.ascii_uppercase
_SITES = ("QM", "QC", "AB", "XYZ", "HIJK")


def _sample(number: int) -> list[str]:
    """Well-formed codes of many sites, days, kinds and lengths of serial; always the same."""
    rng = Random(20260105)
    codes: list[str] = []
    while len(codes) < number:
        day = date(2024, 1, 1) + timedelta(rng.randrange(365 * 6))
        prefix = lot_code_prefix(rng.choice(_SITES), day, rng.choice(list(KIND_LETTERS)))
        serial = rng.choice((rng.randint(1, 200), rng.randint(1, 10**9 - 1)))
        made = lot_code(prefix, serial)
        if made is not None:
            codes.append(made)
    return codes


def test_the_published_check_character() -> None:
    """A12425GABC1234002 has the check character M.

    ISO/IEC 7064 MOD 37,36; a Global Release Identifier, which python-stdnum's documentation takes
    as its example.
    """
    assert check_character("A12425GABC1234002") == "M"
    assert mod_37_36.calc_check_digit("A12425GABC1234002") == "M"


@given(st.text(_ALPHABET, min_size=1, max_size=30))
def test_check_characters_equal_python_stdnum(text: str) -> None:
    """For any text of 0-9 and A-Z, the reference implementation gives the same character."""
    assert check_character(text) == mod_37_36.calc_check_digit(text)


def test_a_code_says_site_day_kind_and_serial() -> None:
    """QM, 2026, the 32nd day, a wheel, the 17th: and it can be taken apart again."""
    prefix = lot_code_prefix("QM", date(2026, 2, 1), "wheel")
    assert prefix == "QM26032W"
    made = lot_code(prefix, 17)
    assert made is not None
    assert made[:-1] == "QM26032W0017"
    parts = parse_lot_code(made)
    assert parts == ("QM", date(2026, 2, 1), "wheel", 17)
    assert kind_of_code(made) == "wheel"
    assert split_lot_code(made) == ("QM26032W", 17)


def test_codes_fit_a_batch_field() -> None:
    """At most 20 characters of 0-9 and A-Z, so any code goes into AI 10.

    GS1 General Specifications: AI 10 holds up to 20 characters of set 82, of which 0-9 and A-Z
    are a part.
    """
    codes = _sample(300)
    longest = lot_code(lot_code_prefix("HIJK", date(2026, 1, 1), "milk"), 987_654_321)
    assert longest is not None
    assert len(longest) == 20
    for made in [*codes, longest]:
        assert len(made) <= 20
        assert set(made) <= set(_ALPHABET)
        assert is_lot_code(made)


def test_every_single_wrong_character_is_caught() -> None:
    """For 300 codes, every character replaced by every other of 0-9 and A-Z, and by some that
    are none of them: not one of these passes."""
    others = _ALPHABET + "abz -_./#\n\u0660\u00c4"
    passed = [
        (made, wrong)
        for made in _sample(300)
        for i, right in enumerate(made)
        for character in others
        if character != right and is_lot_code(wrong := made[:i] + character + made[i + 1 :])
    ]
    assert passed == []


def test_every_swap_of_neighbours_is_caught() -> None:
    """For 2,000 codes, every two different neighbours swapped: not one of these passes."""
    swaps = [
        (made, made[:i] + made[i + 1] + made[i] + made[i + 2 :])
        for made in _sample(2_000)
        for i in range(len(made) - 1)
        if made[i] != made[i + 1]
    ]
    assert len(swaps) > 20_000
    assert [pair for pair in swaps if is_lot_code(pair[1])] == []


def test_the_check_character_alone_would_miss_some_swaps() -> None:
    """Why some serials are never given out: with the check character alone, a few codes of the
    right shape still pass when neighbours are swapped; the rule leaves none of them standing."""
    missed = []
    for serial in range(1, 10_000):
        body = f"QM26032W{serial:04d}"
        made = body + check_character(body)
        for i in range(8, len(made) - 1):
            swapped = made[:i] + made[i + 1] + made[i] + made[i + 2 :]
            if swapped != made and check_character(swapped[:-1]) == swapped[-1]:
                missed.append((made, swapped))
    assert 0 < len(missed) < 500
    for made, swapped in missed:
        mod_37_36.validate(made)
        mod_37_36.validate(swapped)
        assert not is_lot_code(made) or not is_lot_code(swapped)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "QM26032W0017",
        "qm26032w0017x",
        "Q26032W00171",
        "QMQMQ26032W00171",
        "QM26032X00171",
        "QM26032W0171",
        "QM26032W12345678901",
        " QM26032W00171",
        "QM26032W00171\n",
    ],
)
def test_what_has_not_the_shape_is_no_code(text: str) -> None:
    """Empty, too short, small letters, too few or many site letters, an unknown kind, a serial
    of three or ten digits, blanks and line ends."""
    assert lot_code_fault(text) is not None
    with pytest.raises(ValueError, match=r"does not have the shape|fails its check"):
        parse_lot_code(text)


@pytest.mark.parametrize(("day", "is_a_day"), [("000", False), ("365", True), ("366", False)])
def test_the_day_is_one_of_that_year(day: str, is_a_day: bool) -> None:
    """2026 has 365 days; 2028, a leap year, has 366."""
    bodies = [f"QM26{day}W{serial:04d}" for serial in range(1, 60)]
    ok = [body for body in bodies if is_lot_code(body + check_character(body))]
    assert bool(ok) is is_a_day
    assert any(
        is_lot_code(body + check_character(body))
        for body in (f"QM28366W{serial:04d}" for serial in range(1, 60))
    )


def test_a_kind_is_asked_of_a_code_only() -> None:
    """Something else has no kind."""
    with pytest.raises(ValueError, match="does not have the shape"):
        kind_of_code("wheel")
