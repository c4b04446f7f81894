"""Shares of milk deliveries: by hand, and against an independent computation with matrices."""

import random

import numpy as np
import pytest

from rindline_schema.codes import kind_of_code
from rindline_server.calc.shares import WHOLE_PPM, milk_shares
from tests.histories.dairy import random_history
from tests.histories.telling import replayed

_Parents = dict[str, list[tuple[str, int]]]


def _is_milk(lot: str) -> bool:
    return lot.startswith("milk")


def test_a_vat_of_forty_and_sixty_gives_forty_and_sixty() -> None:
    """400 kg of one delivery and 600 kg of another, all the way down to a portion."""
    parents: _Parents = {
        "vat": [("milk A", 400_000), ("milk B", 600_000)],
        "wheel": [("vat", 11_000)],
        "portion": [("wheel", 200)],
    }
    assert milk_shares("portion", parents, _is_milk) == {"milk A": 400_000, "milk B": 600_000}


def test_salt_and_rennet_take_no_share() -> None:
    """What does not go back to milk neither appears nor dilutes."""
    parents: _Parents = {"vat": [("milk A", 300), ("salt", 900), ("rennet", 3), ("milk B", 100)]}
    assert milk_shares("vat", parents, _is_milk) == {"milk A": 750_000, "milk B": 250_000}


def test_through_a_blend_shares_multiply() -> None:
    """Half of a 40/60 vat and half of a vat of B and C alike: 20 % A, 55 % B, 25 % C."""
    parents: _Parents = {
        "vat 1": [("milk A", 40), ("milk B", 60)],
        "vat 2": [("milk B", 50), ("milk C", 50)],
        "crumble": [("trim 1", 500), ("trim 2", 500)],
        "trim 1": [("vat 1", 70)],
        "trim 2": [("vat 2", 900)],
    }
    shares = milk_shares("crumble", parents, _is_milk)
    assert shares == {"milk A": 200_000, "milk B": 550_000, "milk C": 250_000}


def test_thirds_add_up() -> None:
    """Three equal deliveries: 333,334 and twice 333,333, by largest remainder, first come."""
    parents: _Parents = {"vat": [("milk A", 1), ("milk B", 1), ("milk C", 1)]}
    shares = milk_shares("vat", parents, _is_milk)
    assert list(shares.values()) == [333_334, 333_333, 333_333]


def test_a_trace_of_milk_is_named_with_nothing() -> None:
    """A gram in ten tonnes is less than half a millionth: it still is in there."""
    parents: _Parents = {"vat": [("milk A", 10_000_000), ("milk B", 1)]}
    assert milk_shares("vat", parents, _is_milk) == {"milk A": 1_000_000, "milk B": 0}


def test_shares_of_less_than_a_gram_count_alike() -> None:
    """An output of a blend so small that both edges are rounded to nothing."""
    parents: _Parents = {"crumb": [("milk A", 0), ("milk B", 0)]}
    assert milk_shares("crumb", parents, _is_milk) == {"milk A": 500_000, "milk B": 500_000}


def test_without_milk_there_are_no_shares() -> None:
    """A lot whose make is not recorded yet, salt, and a lot nobody knows."""
    assert milk_shares("wheel", {"wheel": [("vat", 5)]}, _is_milk) == {}
    assert milk_shares("salt", {}, _is_milk) == {}
    assert milk_shares("milk A", {}, _is_milk) == {"milk A": 1_000_000}


def test_a_long_line_of_descent_and_a_circle_come_to_an_end() -> None:
    """Ten thousand generations; and lots that would be made of one another."""
    parents: _Parents = {f"lot {i}": [(f"lot {i - 1}", 5)] for i in range(1, 10_000)}
    parents["lot 0"] = [("milk A", 5)]
    assert milk_shares("lot 9999", parents, _is_milk) == {"milk A": 1_000_000}
    circle: _Parents = {"a": [("b", 1), ("milk A", 1)], "b": [("a", 1), ("milk B", 3)]}
    assert sum(milk_shares("a", circle, _is_milk).values()) == WHOLE_PPM


def _by_matrix(lots: list[str], parents: _Parents) -> np.ndarray:
    """Solve all shares at once: S = M + P S, where P spreads each lot over its parents by mass.

    Rows of lots without milk in their past are left out beforehand, as they do not count.
    """
    index = {lot: i for i, lot in enumerate(lots)}
    with_milk = np.array([_is_milk(lot) for lot in lots])
    reach = np.zeros((len(lots), len(lots)))
    for lot, some in parents.items():
        for parent, mass_g in some:
            reach[index[lot], index[parent]] += mass_g
    for _ in lots:
        with_milk = with_milk | ((reach > 0) @ with_milk > 0)
    spread = reach * with_milk
    whole = spread.sum(axis=1, keepdims=True)
    spread = np.divide(spread, whole, out=np.zeros_like(spread), where=whole > 0)
    milk = np.diag([1.0 if _is_milk(lot) else 0.0 for lot in lots])
    spread[[i for i, lot in enumerate(lots) if _is_milk(lot)]] = 0
    return np.linalg.solve(np.eye(len(lots)) - spread, milk)


@pytest.mark.parametrize("seed", range(6))
def test_shares_equal_a_matrix_computation_on_random_descents(seed: int) -> None:
    """Forty lots with one to four parents among those before them, salt in between: no share
    differs by more than the rounding to a millionth from the solution of the linear system."""
    rng = random.Random(seed)
    lots = [f"milk {i}" for i in range(5)] + ["salt 0", "salt 1"]
    parents: _Parents = {}
    for i in range(40):
        some = rng.sample(lots, rng.randint(1, 4))
        parents[f"lot {i}"] = [(parent, rng.randint(1, 5_000)) for parent in some]
        lots.append(f"lot {i}")
    solved = _by_matrix(lots, parents)
    for row, lot in enumerate(lots):
        shares = milk_shares(lot, parents, _is_milk)
        assert sum(shares.values()) == (WHOLE_PPM if shares else 0)
        for column, milk in enumerate(lots[:5]):
            assert abs(shares.get(milk, 0) / WHOLE_PPM - solved[row, column]) < 1e-6
        assert bool(shares) == bool(solved[row].sum() > 0.5)


def test_shares_equal_a_matrix_computation_on_a_whole_history() -> None:
    """The same for every lot of a random history told to the rules, blends and all."""
    history = random_history(3, 400)
    world = replayed(history, history.events)
    names = {
        lot: ("milk " if kind_of_code(lot) == "milk" else "") + lot for lot in sorted(world.books)
    }
    parents: _Parents = {}
    for edge in set(world.new_edges) - set(world.void_edges):
        parents.setdefault(names[edge.child], []).append((names[edge.parent], edge.mass_g))
    lots = list(names.values())
    solved = _by_matrix(lots, parents)
    blended = 0
    for row, lot in enumerate(lots):
        shares = milk_shares(lot, parents, _is_milk)
        blended += len(shares) > 3
        for column, milk in enumerate(lots):
            if _is_milk(milk):
                assert abs(shares.get(milk, 0) / WHOLE_PPM - solved[row, column]) < 2e-6
    assert blended
