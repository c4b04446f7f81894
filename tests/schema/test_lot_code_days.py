"""No day without lot codes. MOD 37,36 is of ISO/IEC 7064; the rule for its blind spots is ours."""

from datetime import date, timedelta

import pytest

from rindline_schema.codes import KIND_LETTERS, is_lot_code, lot_code, lot_code_prefix

_DAYS = [date(2024, 1, 1) + timedelta(days) for days in range(366 + 365 * 9 + 2)]


def _first_code(prefix: str) -> str | None:
    codes = (lot_code(prefix, serial) for serial in range(1, 40))
    return next((code for code in codes if code is not None), None)


@pytest.mark.parametrize("site", ["QM", "AB", "XYZ", "HIJK"])
def test_every_day_has_codes_for_every_kind_of_lot(site: str) -> None:
    """A blind spot of the check that lies in date or site leaves no day without codes."""
    without = [
        (day, kind)
        for day in _DAYS
        for kind in KIND_LETTERS
        if _first_code(lot_code_prefix(site, day, kind)) is None
    ]
    assert without == []


@pytest.mark.parametrize("site", ["QM", "AB", "XYZ", "HIJK"])
def test_no_swap_of_neighbours_in_the_first_code_of_a_day_goes_unnoticed(site: str) -> None:
    """Also where the check character cannot tell two neighbours before the serial apart."""
    unnoticed = []
    for day in _DAYS:
        code = _first_code(lot_code_prefix(site, day, "wheel")) or ""
        for i in range(len(code) - 1):
            swapped = code[:i] + code[i + 1] + code[i] + code[i + 2 :]
            if swapped != code and is_lot_code(swapped):
                unnoticed.append((code, swapped))
    assert unnoticed == []
