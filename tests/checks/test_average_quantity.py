"""Packs of one nominal mass against Directive 76/211/EEC, annex I, and its published table."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline import InvalidInputError
from rindline.stations import check_packs, tolerable_negative_error_mg
from rindline_schema import SAFETY_NOTE
from rindline_schema.registers import Product


@pytest.mark.parametrize(
    ("nominal_g", "error_mg"),
    [
        # Directive 76/211/EEC, annex I, 2.4, with percentages rounded up to 0.1 g.
        (150, 6_800),
        (155, 7_000),
        (340, 10_200),
        (400, 12_000),
        (1_000, 15_000),
        (2_000, 30_000),
        # The same table at the ends of its rows.
        (5, 500),
        (50, 4_500),
        (100, 4_500),
        (200, 9_000),
        (300, 9_000),
        (500, 15_000),
        (10_000, 150_000),
    ],
)
def test_the_tolerable_negative_error_is_the_tables(nominal_g: int, error_mg: int) -> None:
    """The table's published values, in milligrams."""
    assert tolerable_negative_error_mg(nominal_g) == error_mg


@pytest.mark.parametrize("nominal_g", [Decimal("4.999"), Decimal("10000.001")])
def test_outside_the_directive_there_is_no_error(nominal_g: Decimal) -> None:
    """Under 5 g and over 10 kg the directive says nothing, and so do we."""
    with pytest.raises(InvalidInputError, match="5 g to 10 kg"):
        tolerable_negative_error_mg(nominal_g)


@given(st.integers(5_000, 9_999_999))
def test_the_error_never_falls_as_packs_grow(nominal_mg: int) -> None:
    """The table has no step down anywhere, and the error is a whole number of tenths of a gram
    but in the rows that give grams.
    """
    here = tolerable_negative_error_mg(Decimal(nominal_mg) / 1000)
    assert here <= tolerable_negative_error_mg(Decimal(nominal_mg + 1) / 1000)
    assert here % 100 == 0


def test_the_limits_themselves_are_within() -> None:
    """Of 40 packs of 150 g one exactly at T2 and one at T1: one pack of 40 is below T1, which is
    2.5 %, none below T2, and the mean is exactly nominal. (Constructed: T1 143.2 g, T2 136.4 g.)
    """
    masses = [Decimal("136.4"), Decimal("143.2"), Decimal("170.4"), *[Decimal(150)] * 37]
    check = check_packs(masses, 150)
    assert (check.t1_mg, check.t2_mg) == (143_200, 136_400)
    assert (check.below_t1, check.below_t2, check.mean_mg) == (1, 0, 150_000)
    assert check.within


@pytest.mark.parametrize(
    ("masses", "rules"),
    [
        # mean, T1, T2; each broken alone, by a milligram or one pack (constructed).
        ([Decimal("149.999")], (False, True, True)),
        ([Decimal("143.199"), Decimal(170), *[Decimal(150)] * 37], (True, False, True)),
        ([Decimal("136.399"), Decimal(170), *[Decimal(150)] * 38], (True, True, False)),
    ],
)
def test_each_rule_is_broken_alone(masses: list[Decimal], rules: tuple[bool, bool, bool]) -> None:
    """A milligram under a limit, or one pack in 39, breaks that rule, no other, and the whole."""
    check = check_packs(masses, 150)
    assert (check.mean_within, check.t1_within, check.t2_within) == rules
    assert not check.within


@given(
    st.lists(st.integers(100_000, 200_000), min_size=1, max_size=120), st.integers(120_000, 180_000)
)
def test_the_figures_are_those_of_plain_fractions(masses_mg: list[int], nominal_mg: int) -> None:
    """Mean, counts and verdicts agree with the same rules written over fractions."""
    check = check_packs([Decimal(g) / 1000 for g in masses_mg], Decimal(nominal_mg) / 1000)
    below_t1 = [g for g in masses_mg if g < check.t1_mg]
    below_t2 = [g for g in masses_mg if g < check.t2_mg]
    assert check.mean_within == (Fraction(sum(masses_mg), len(masses_mg)) >= nominal_mg)
    assert check.t1_within == (Fraction(len(below_t1), len(masses_mg)) <= Fraction(25, 1000))
    assert check.t2_within == (not below_t2)
    assert check.within == (check.mean_within and check.t1_within and check.t2_within)
    assert (check.below_t1, check.below_t2) == (len(below_t1), len(below_t2))


def test_catch_weight_pieces_are_outside() -> None:
    """A product sold by each piece's own mass is not checked, and the answer says why; every
    answer carries the limits of what it says.
    """
    wedge = Product(code="QB-WEDGE", name="Quillmere Blue wedge", kind="portion")
    with pytest.raises(InvalidInputError, match=r"QB-WEDGE.*Catch-weight pieces"):
        check_packs([150], 150, product=wedge)
    tub = Product(code="QB-TUB", name="Crumble", kind="blend", weight="fixed", net_mass_g=150)
    check = check_packs([150], product=tub)
    assert check.nominal_mg == 150_000
    assert "Catch-weight" in check.catch_weight
    assert check.safety == SAFETY_NOTE
    assert "76/211/EEC" in check.basis


@pytest.mark.parametrize("masses", [[], [0], [-1], [Decimal("150.0001")], [Decimal("NaN")]])
def test_what_is_no_run_of_packs_is_refused(masses: list[int | Decimal]) -> None:
    """No packs, a mass that is none, or one finer than a milligram: nothing is worked out."""
    with pytest.raises(InvalidInputError):
        check_packs(masses, 150)
    with pytest.raises(InvalidInputError, match="nominal"):
        check_packs([150])
