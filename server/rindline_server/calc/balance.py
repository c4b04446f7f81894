"""How much of what there was to account for is accounted for."""

__all__ = ["accounted_pct"]


def accounted_pct(base_g: int, unaccounted_g: int) -> float:
    """Give 100 % less the unaccounted share of ``base_g`` grams, to 0.01 %.

    ``base_g`` is what was there after losses that weighings show (ripening, whey). What is found
    over counts like what is missing: either way the figures do not add up. 100.0 of nothing.
    """
    if base_g <= 0:
        return 100.0 if unaccounted_g == 0 else 0.0
    return round(100 - 100 * abs(unaccounted_g) / base_g, 2)
