"""Which part of a lot's milk came from which delivery, by mass, exactly."""

from collections.abc import Callable, Mapping, Sequence
from math import gcd, lcm
from typing import TypeVar

from rindline_server.calc.apportion import apportion

__all__ = ["WHOLE_PPM", "milk_shares"]

WHOLE_PPM = 1_000_000
"""All of it, in parts per million."""

_Lot = TypeVar("_Lot", str, int)


def milk_shares(
    lot: _Lot,
    parents: Mapping[_Lot, Sequence[tuple[_Lot, int]]],
    is_milk: Callable[[_Lot], bool],
) -> dict[_Lot, int]:
    """Give each milk delivery in a lot's past its share in parts per million.

    Lots are named by their codes or by numbers; ``parents`` holds for each what went into it as
    (lot, grams). Only what goes back to milk
    counts: rennet and salt take no share away from it. Where several such lots went in, each
    passes on its own shares in proportion to its grams. The answer is in order of the lots and
    adds up to 1,000,000 by largest remainder; it is empty if no milk is known. A delivery of
    which less than half a millionth came stands in it with 0.
    """
    shares = _exact_shares(lot, parents, is_milk)[lot]
    if not shares:
        return {}
    milk = sorted(shares)
    return dict(zip(milk, apportion(WHOLE_PPM, [shares[name] for name in milk]), strict=True))


def _exact_shares(
    lot: _Lot,
    parents: Mapping[_Lot, Sequence[tuple[_Lot, int]]],
    is_milk: Callable[[_Lot], bool],
) -> dict[_Lot, dict[_Lot, int]]:
    """Work out the shares of a lot and of all before it, parents first, however deep it goes.

    Shares are whole numbers in the proportion of the grams; together they are all of it.
    """
    known: dict[_Lot, dict[_Lot, int]] = {}
    begun: set[_Lot] = set()
    ahead = [lot]
    while ahead:
        name = ahead[-1]
        if name in known:
            ahead.pop()
        elif is_milk(name):
            known[name] = {name: 1}
        elif name in begun:
            known[name] = _mixed([(known.get(p, {}), g) for p, g in parents.get(name, ())])
        else:
            begun.add(name)
            # A lot on the way up already would be made of itself: that edge says nothing.
            ahead.extend(p for p, _ in parents.get(name, ()) if p not in begun)
    return known


def _mixed(parts: Sequence[tuple[dict[_Lot, int], int]]) -> dict[_Lot, int]:
    """Mix what several parents pass on, by their grams; parents without milk do not count."""
    of_milk = [(shares, mass_g) for shares, mass_g in parts if shares]
    if len(of_milk) < 2:
        # All of it, as nearly always on the way from milk to portion.
        return of_milk[0][0] if of_milk else {}
    is_weighed = any(mass_g for _, mass_g in of_milk)
    wholes = [sum(shares.values()) for shares, _ in of_milk]
    whole = lcm(*wholes)
    mixed: dict[_Lot, int] = {}
    for (shares, mass_g), its_whole in zip(of_milk, wholes, strict=True):
        # All of them less than a gram: then they count alike.
        factor = (mass_g if is_weighed else 1) * (whole // its_whole)
        for name, share in shares.items():
            mixed[name] = mixed.get(name, 0) + share * factor
    common = gcd(*mixed.values())
    return {name: share // common for name, share in mixed.items()}
