"""Packs of one nominal mass: Directive 76/211/EEC, annex I, as arithmetic. Pure.

Annex I (read 2026-11-25 at legislation.gov.uk/eudr/1976/211) asks that packs hold the nominal
quantity on average (1.1), that few enough lie below it by more than the tolerable negative error
of its table (1.2), and that none lies below by more than twice that error (1.3). "Few enough" is
there what passes the sampling of annex II; the 2.5 % used here is the packers' usual rule for it.
"""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Literal

from msgspec import Struct

from rindline.errors import InvalidInputError
from rindline_schema import SAFETY_NOTE
from rindline_schema.registers import Product

__all__ = ["PackCheck", "check_packs", "tolerable_negative_error_mg"]

BASIS = "Directive 76/211/EEC, annex I, as read on 2026-11-25"
CATCH_WEIGHT_NOTE = (
    "Catch-weight pieces, each sold by the mass on its own label, lie outside this check."
)
MOST_BELOW_T1_PERMILLE = 25

# Nominal masses in g from the last limit up to this one: error in % of it, or in g.
_Kind = Literal["tenths_of_percent", "g"]
_TABLE: tuple[tuple[int, _Kind, int], ...] = (
    (50, "tenths_of_percent", 90),
    (100, "tenths_of_percent", 45),
    (200, "tenths_of_percent", 45),
    (300, "g", 9),
    (500, "tenths_of_percent", 30),
    (1_000, "g", 15),
    (10_000, "tenths_of_percent", 15),
)


class PackCheck(Struct, kw_only=True, frozen=True):
    """The figures of a run of packs; masses in milligrams, exact.

    ``t1_mg`` and ``t2_mg`` are the nominal mass less once and twice the tolerable negative error;
    ``below_t1`` and ``below_t2`` count the packs under them; ``mean_mg`` is rounded down.
    ``within`` says that all three rules hold for these packs, by arithmetic and no more.
    """

    nominal_mg: int
    packs: int
    tolerable_error_mg: int
    t1_mg: int
    t2_mg: int
    mean_mg: int
    least_mg: int
    below_t1: int
    below_t2: int
    mean_within: bool
    t1_within: bool
    t2_within: bool
    within: bool
    basis: str = BASIS
    catch_weight: str = CATCH_WEIGHT_NOTE
    safety: str = SAFETY_NOTE


def tolerable_negative_error_mg(nominal_g: int | Decimal) -> int:
    """Give the table's error for a nominal mass, in milligrams; percentages up to 0.1 g.

    Raises :class:`rindline.InvalidInputError` outside 5 g to 10 kg, where the directive ends.
    """
    nominal_mg = _milligrams(nominal_g)
    if not 5_000 <= nominal_mg <= 10_000_000:
        raise InvalidInputError("Directive 76/211/EEC is for packs of 5 g to 10 kg.")
    # Neighbouring rows agree at their limit, so it does not matter which of them has it.
    kind, figure = next(
        (kind, figure) for up_to, kind, figure in _TABLE if nominal_mg <= up_to * 1000
    )
    if kind == "g":
        return figure * 1000
    return -(-nominal_mg * figure // 100_000) * 100


def check_packs(
    masses_g: Iterable[int | Decimal],
    nominal_g: int | Decimal | None = None,
    *,
    product: Product | None = None,
) -> PackCheck:
    """Work out the figures of a run of packs from their net masses in grams, to the milligram.

    The nominal mass is ``nominal_g`` or the ``product``'s. Raises
    :class:`rindline.InvalidInputError` for a product of catch weight, for no packs, and for
    masses that are not above zero or finer than a milligram.
    """
    if product is not None:
        if product.weight == "variable":
            raise InvalidInputError(
                f"{product.code} is sold by each piece's mass. {CATCH_WEIGHT_NOTE}"
            )
        nominal_g = product.net_mass_g if nominal_g is None else nominal_g
    if nominal_g is None:
        raise InvalidInputError("Say the nominal mass of a pack.")
    nominal_mg = _milligrams(nominal_g)
    error_mg = tolerable_negative_error_mg(nominal_g)
    masses_mg = [_milligrams(mass_g) for mass_g in masses_g]
    if not masses_mg:
        raise InvalidInputError("There are no packs to check.")
    return _figures(masses_mg, nominal_mg, error_mg)


def _figures(masses_mg: Sequence[int], nominal_mg: int, error_mg: int) -> PackCheck:
    packs = len(masses_mg)
    t1_mg, t2_mg = nominal_mg - error_mg, nominal_mg - 2 * error_mg
    below_t1 = sum(mass_mg < t1_mg for mass_mg in masses_mg)
    below_t2 = sum(mass_mg < t2_mg for mass_mg in masses_mg)
    mean_within = sum(masses_mg) >= nominal_mg * packs
    t1_within = below_t1 * 1000 <= MOST_BELOW_T1_PERMILLE * packs
    return PackCheck(
        nominal_mg=nominal_mg,
        packs=packs,
        tolerable_error_mg=error_mg,
        t1_mg=t1_mg,
        t2_mg=t2_mg,
        mean_mg=sum(masses_mg) // packs,
        least_mg=min(masses_mg),
        below_t1=below_t1,
        below_t2=below_t2,
        mean_within=mean_within,
        t1_within=t1_within,
        t2_within=below_t2 == 0,
        within=mean_within and t1_within and below_t2 == 0,
    )


def _milligrams(mass_g: int | Decimal) -> int:
    mass_mg = Decimal(mass_g) * 1000
    if not mass_mg.is_finite() or mass_mg % 1 or not 0 < mass_mg <= 10**9:
        raise InvalidInputError(f"{mass_g} g is not a mass above zero, to the milligram.")
    return int(mass_mg)
