"""Spreads and spans as bytes: there and back, and added up."""

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from rindline_server.calc.air.packing import (
    Spell,
    merge_spreads,
    pack_spans,
    pack_spells,
    pack_spread,
    spans_of,
    spells_in,
    spread_of,
)

_SPREADS = st.dictionaries(st.integers(-900, 1200), st.integers(1, 3_600_000_000), max_size=8)


@given(spread=_SPREADS)
def test_a_spread_comes_back_as_it_was(spread: dict[int, int]) -> None:
    """Packed and unpacked, in order of its steps."""
    assert spread_of(pack_spread(spread)) == spread
    assert list(spread_of(pack_spread(spread))) == sorted(spread)


@given(spreads=st.lists(_SPREADS, max_size=12))
def test_spreads_add_up_step_by_step(spreads: list[dict[int, int]]) -> None:
    """Merged packed is merged as counts, wherever each begins."""
    expected: Counter[int] = Counter()
    for spread in spreads:
        expected.update(spread)
    merged = merge_spreads([pack_spread(spread) for spread in spreads])
    assert spread_of(merged) == expected
    assert merge_spreads([merged, b""]) == merged


def test_a_lane_holds_thousands_of_years() -> None:
    """A hundred years in one step, added ten times, spill into no other step."""
    century_us = 100 * 366 * 24 * 3_600_000_000
    packed = pack_spread({100: century_us, 101: 1})
    assert spread_of(merge_spreads([packed] * 10)) == {100: 10 * century_us, 101: 10}


def test_a_hundred_thousand_hours_keep_their_lowest_step() -> None:
    """The lane of the lowest step is added along and must not spill either."""
    packed = pack_spread({1200: 3_600_000_000})
    assert spread_of(merge_spreads([packed] * 100_000)) == {1200: 100_000 * 3_600_000_000}


def test_touching_spells_are_joined_and_keep_the_worst() -> None:
    """The same side and limit joined; another limit, another side or a pause are not."""
    told = [
        Spell("too_cold", 0, 10, 12.0, 11.0),
        Spell("too_warm", 10, 20, 12.0, 13.0),
        Spell("too_dry", 0, 10, 85.0, 80.0),
        Spell("too_warm", 20, 30, 12.0, 14.5),
        Spell("too_dry", 10, 15, 85.0, 82.0),
        Spell("too_warm", 30, 40, 11.0, 14.0),
        Spell("too_warm", 41, 50, 11.0, 12.0),
        Spell("too_damp", 50, 60, 96.0, 99.0),
    ]
    assert spells_in(pack_spells(told)) == [
        Spell("too_cold", 0, 10, 12.0, 11.0),
        Spell("too_warm", 10, 30, 12.0, 14.5),
        Spell("too_warm", 30, 40, 11.0, 14.0),
        Spell("too_warm", 41, 50, 11.0, 12.0),
        Spell("too_dry", 0, 15, 85.0, 80.0),
        Spell("too_damp", 50, 60, 96.0, 99.0),
    ]


def test_touching_spans_are_joined_in_order_of_time() -> None:
    """Told in any order; a pause keeps two apart."""
    assert spans_of(pack_spans([(20, 30), (0, 10), (10, 15)])) == [(0, 15), (20, 30)]
    assert spans_of(b"") == []
