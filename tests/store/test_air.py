"""Hours rolled up, doubts, and what of them is due, in the database."""

from collections.abc import Sequence
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rindline_server.calc.air import Tally
from rindline_server.store import DoubtRow, Due, Store

_FULL = Tally(
    *(1, 2, 3, 4),
    *(5.1, 6.1, 7.1, 8.1, 9.1, 1e-300),
    *(10, 11, 12, 13, 2**62),
    *(-1.5, -2.5, -3.5, -4.5),
    *(b"\x00", b"\xff" * 900, b"spells", b"\x80\x00"),
)


def _tally(number: int) -> Tally:
    return Tally(readings=number, least_c=number / 3, c_spread=bytes([number % 256]))


def _put(store: Store, room: str, hours: Sequence[int], first: int, behind: int) -> None:
    with store.writing() as tx:
        tx.put_air_hours(room, first, behind, [(hour, _tally(hour)) for hour in hours])


def test_a_tally_comes_back_bit_for_bit(store: Store) -> None:
    """Whole numbers, fractions, bytes and what is missing: every field of an hour. A fraction that
    happens to be a whole number is no less one."""
    hours = [(5, _FULL), (6, Tally()), (7, Tally(most_pct=1 / 3, kinetic_h=5e-17, area_c_h=9))]
    with store.writing() as tx:
        tx.put_air_hours("CAVE", 5, 8, hours)
    with store.reading() as snap:
        assert snap.air_hours("CAVE", (0, 100)) == hours
    assert len(set(_FULL)) == len(Tally._fields)


@pytest.mark.parametrize("count", [3, 40])
def test_hours_replace_those_of_their_range_only(store: Store, count: int) -> None:
    """Hours of the range that are no more are gone; others, and other rooms', stay."""
    _put(store, "CAVE", range(100), 0, 100)
    _put(store, "YARD", range(100), 0, 100)
    _put(store, "CAVE", range(20, 20 + count), 15, 65)
    with store.reading() as snap:
        kept = [*range(15), *range(20, 20 + count), *range(65, 100)]
        assert snap.air_hours("CAVE", (0, 100)) == [(hour, _tally(hour)) for hour in kept]
        assert [hour for hour, _ in snap.air_hours("YARD", (30, 33))] == [30, 31, 32]


def _doubt(sensor: str, from_us: int, until_us: int, kind: str = "stuck") -> DoubtRow:
    return DoubtRow(sensor, from_us, kind, until_us, f"{kind} from {from_us}")


def test_doubts_replace_all_that_touch_their_time(store: Store) -> None:
    """Also one that reaches in from before it, and one that only touches its end; no others."""
    before = [_doubt("A", 0, 9), _doubt("A", 5, 10), _doubt("A", 20, 30), _doubt("A", 31, 40)]
    other = _doubt("B", 12, 13)
    with store.writing() as tx:
        tx.put_doubts("A", 0, 40, before)
        tx.put_doubts("B", 0, 40, [other])
    anew = [_doubt("A", 10, 12), _doubt("A", 10, 11, "jump")]
    with store.writing() as tx:
        tx.put_doubts("A", 10, 30, anew)
    with store.reading() as snap:
        kept = [before[0], anew[1], anew[0], other, before[3]]
        assert snap.doubts(["A", "B"], 0, 100) == kept
        assert snap.doubts(["A"], 12, 30) == [anew[0]]
        assert snap.doubts(["A"], 13, 30) == []
        assert snap.doubts([], 0, 100) == []


_RANGES = st.lists(
    st.tuples(st.integers(-40, 40), st.integers(1, 12)).map(lambda one: (one[0], sum(one))),
    max_size=4,
)


# Nothing of an example stays: its transaction is cancelled.
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(st.tuples(st.booleans(), _RANGES), max_size=8))
def test_due_hours_are_a_set(store: Store, steps: list[tuple[bool, list[tuple[int, int]]]]) -> None:
    """Marked in any order, several at once, taken in between: what is due is what a plain set of
    hours holds; ranges never touch, and of one room nothing is said of another."""
    expected: set[int] = set()
    with store.writing() as tx:
        for marks, ranges in steps:
            hours = {hour for one in ranges for hour in range(*one)}
            if marks:
                expected |= hours
                tx.mark_due("CAVE", ranges)
            else:
                expected -= hours
                for one in ranges:
                    tx.take_due(Due("CAVE", *one))
        due = tx.due_hours("CAVE", -100, 100)
        assert [hour for one in due for hour in range(*one)] == sorted(expected)
        assert all(first[1] < second[0] for first, second in pairwise(due))
        assert tx.due_hours("CAVE", -5, 5) == _cut(due, -5, 5)
        assert tx.due_left() == len(expected)
        assert tx.next_due_hours() == (Due("CAVE", *due[0]) if due else None)
        assert (tx.due_hours("YARD", -100, 100), tx.next_due_doubts()) == ([], None)
        tx.cancel()


def _cut(due: Sequence[tuple[int, int]], first: int, behind: int) -> list[tuple[int, int]]:
    cut = [(max(one[0], first), min(one[1], behind)) for one in due]
    return [one for one in cut if one[0] < one[1]]


def test_what_is_due_is_found_in_turn(store: Store) -> None:
    """Rooms and sensors apart, each by code and hour; what lies behind can be asked for."""
    with store.writing() as tx:
        tx.mark_due("B", [])
        marked = [tx.has_marked]
        tx.mark_due("B", [(5, 6), (1, 3)])
        tx.mark_due("A", [(9, 10)])
        tx.mark_doubts_due("S", [(2, 4)])
        marked.append(tx.has_marked)
    assert marked == [False, True]
    with store.reading() as snap:
        behind = [None, ("A", 9), ("B", 1), ("B", 5)]
        found = [Due("A", 9, 10), Due("B", 1, 3), Due("B", 5, 6), None]
        assert [snap.next_due_hours(one) for one in behind] == found
        assert snap.next_due_doubts() == Due("S", 2, 4)
        assert snap.due_doubts("S", 3, 9) == [(3, 4)]
        assert snap.due_left() == 6
    with store.writing() as tx:
        tx.take_doubts_due(Due("S", 2, 4))
        tx.clear_air()
    with store.reading() as snap:
        assert snap.due_left() == 0
