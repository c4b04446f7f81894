"""Readings hard to believe. The thresholds are common practice of loggers' makers, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline_server.calc.air import HOUR_US, Doubtful, DoubtRule, Sample, doubts, window_for

_MINUTE_US = 60_000_000
_EVERY_US = 30 * _MINUTE_US
# Small enough that generated readings reach every threshold.
_QUICK = DoubtRule(
    stuck_us=8 * _MINUTE_US,
    stuck_alone_us=12 * _MINUTE_US,
    stuck_readings=7,
    jump_within_us=3 * _MINUTE_US,
    saturated_us=10 * _MINUTE_US,
    apart_us=5 * _MINUTE_US,
)


def _regular(
    count: int, c: float | None, pct: float | None, begin: int = 0, every_us: int = _EVERY_US
) -> list[Sample]:
    return [Sample(begin + i * every_us, c, pct) for i in range(count)]


def _lively(count: int, begin: int = 0) -> list[Sample]:
    return [Sample(begin + i * _EVERY_US, 10 + i % 3 / 10, 90.0 + i % 2) for i in range(count)]


def _kinds(samples: list[Sample]) -> list[tuple[str, int, int]]:
    return [(d.kind, d.from_us, d.until_us) for d in doubts(samples)]


def test_a_lively_sensor_is_believed() -> None:
    """Four days of small changes: no doubt; nor about no readings at all."""
    assert doubts(_lively(200)) == []
    assert doubts([]) == []


def test_a_day_of_the_very_same_values_is_stuck() -> None:
    """24 hours to the last digit: stuck, from the first to the last such reading; less is not."""
    before, after = _lively(10), _lively(10, 60 * _EVERY_US)
    day = _regular(49, 11.5, 91.2, 10 * _EVERY_US)
    assert _kinds([*before, *day, *after]) == [("stuck", 10 * _EVERY_US, 58 * _EVERY_US)]
    assert _kinds([*before, *day[:-1], *after]) == []


def test_few_readings_are_not_stuck() -> None:
    """Eleven equal readings over days, four hours apart, may be chance: twelve are asked."""
    sparse = _regular(12, 11.5, 91.2, every_us=4 * HOUR_US)
    assert [d.kind for d in doubts(sparse)] == ["stuck"]
    assert doubts(sparse[:-1]) == []


def test_one_quantity_alone_must_stand_still_for_three_days() -> None:
    """A coarse thermometer in a good cellar shows the same for a day or two."""
    assert doubts(_regular(100, 11.5, None)) == []
    assert [d.kind for d in doubts(_regular(145, 11.5, None))] == ["stuck"]


def test_a_steady_temperature_beside_a_lively_humidity_is_not_stuck() -> None:
    """Both quantities must stand still where both are told."""
    samples = [Sample(i * _EVERY_US, 11.5, 90.0 + i % 2 / 10) for i in range(300)]
    assert doubts(samples) == []


def test_readings_far_apart_break_a_run() -> None:
    """What lies between readings more than six hours apart says nothing."""
    first = _regular(30, 11.5, 91.2)
    near = _regular(30, 11.5, 91.2, first[-1].at_us + 6 * HOUR_US)
    far = _regular(30, 11.5, 91.2, first[-1].at_us + 6 * HOUR_US + 1)
    assert [d.kind for d in doubts([*first, *near])] == ["stuck"]
    assert doubts([*first, *far]) == []


@pytest.mark.parametrize(
    ("before", "after", "minutes", "flagged"),
    [
        ((10.0, 90.0), (18.5, 90.0), 5, True),
        ((10.0, 90.0), (18.0, 90.0), 5, False),
        ((18.5, 90.0), (10.0, 90.0), 15, True),
        ((18.5, 90.0), (10.0, 90.0), 16, False),
        ((10.0, 95.0), (10.0, 69.0), 5, True),
        ((10.0, 95.0), (10.0, 70.0), 5, False),
    ],
)
def test_a_sudden_step_is_a_jump(
    before: tuple[float, float], after: tuple[float, float], minutes: int, flagged: bool
) -> None:
    """More than 8 degrees or 25 % between readings at most 15 minutes apart, up or down."""
    samples = [Sample(0, *before), Sample(minutes * _MINUTE_US, *after)]
    expected = [("jump", 0, minutes * _MINUTE_US)] if flagged else []
    assert _kinds(samples) == expected


def test_there_and_back_is_one_jump() -> None:
    """One odd reading is one doubt, from the reading before it to the one after it."""
    samples = [
        Sample(i * 5 * _MINUTE_US, c, 90.0) for i, c in enumerate([10.0, 10.1, 40.0, 10.0, 10.1])
    ]
    (doubt,) = doubts(samples)
    assert (doubt.kind, doubt.from_us, doubt.until_us) == (
        "jump",
        5 * _MINUTE_US,
        15 * _MINUTE_US,
    )
    assert doubt.detail == (
        "from 10.1 to 40 degrees within 5 minutes; from 40 to 10 degrees within 5 minutes"
    )


def test_a_jump_is_seen_over_a_reading_without_the_quantity() -> None:
    """A reading of humidity alone between two temperatures hides nothing."""
    samples = [
        Sample(0, 7.0, 90.0),
        Sample(5 * _MINUTE_US, None, 90.0),
        Sample(10 * _MINUTE_US, 16.0, 90.0),
        Sample(15 * _MINUTE_US, None, 90.0),
        Sample(20 * _MINUTE_US, 16.0, 90.0),
    ]
    assert _kinds(samples) == [("jump", 0, 10 * _MINUTE_US)]


def test_readings_of_temperature_alone_do_not_end_saturation() -> None:
    """A reading without humidity says nothing about it: neither that it stayed nor that it fell."""
    wet = [Sample(i * _EVERY_US, 10 + i % 3 / 10, 100.0) for i in range(97)]
    told = [*wet[:50], wet[50]._replace(pct=None), *wet[51:]]
    assert _kinds(told) == [("saturated", 0, 96 * _EVERY_US)]


def test_saturated_for_two_days() -> None:
    """99.5 % or more for 48 hours, whatever the temperature does; one reading below ends it."""
    wet = [Sample(i * _EVERY_US, 10 + i % 3 / 10, 99.5 + i % 2 / 2) for i in range(97)]
    assert _kinds(wet) == [("saturated", 0, 96 * _EVERY_US)]
    assert doubts(wet)[0].detail == "humidity of 99.5 % or more in 97 readings over 48 hours"
    assert doubts(wet[:-1]) == []
    broken = [*wet[:50], wet[50]._replace(pct=99.4), *wet[51:]]
    assert doubts(broken) == []


def test_the_words_say_what_stood_still() -> None:
    """The detail names values, readings and hours."""
    (both,) = doubts(_regular(49, 11.5, 91.2))
    assert both.detail == "the very same 11.5 degrees and 91.2 % in 49 readings over 24 hours"
    (alone,) = doubts(_regular(145, None, 80.0))
    assert alone.detail == "the very same 80 % in 145 readings over 72 hours"


def test_the_window_takes_in_standing_doubts_that_touch_it_and_those_that_touch_these() -> None:
    """Grown until no standing doubt crosses its edge; others are left alone."""
    reach = DoubtRule().reach_us
    chain = [(-reach - 90, -reach - 50), (-reach - 50, -reach), (7 + reach, 9 + reach)]
    far = [(-reach - 900, -reach - 91), (reach + 10, reach + 20)]
    assert window_for(0, 7, [*far, *chain]) == (-reach - 90, reach + 9)
    assert window_for(0, 7, far) == (-reach, 7 + reach)


@st.composite
def _readings(draw: st.DrawFn) -> list[Sample]:
    """A sensor of few values, so that it often stands still, jumps and is saturated."""
    values = st.sampled_from([(10.0, 100.0), (10.0, 100.0), (10.0, 90.0), (30.0, 100.0)])
    alone = st.sampled_from([(10.0, None), (None, 100.0)])
    found: list[Sample] = []
    at = 0
    for _ in range(draw(st.integers(1, 8))):
        shown = draw(st.one_of(values, values, values, alone))
        at += draw(st.sampled_from([1, 2, 5, 6])) * _MINUTE_US
        every_us = draw(st.sampled_from([1, 2, 5])) * _MINUTE_US
        count = draw(st.integers(1, 15))
        found += [Sample(at + i * every_us, *shown) for i in range(count)]
        at = found[-1].at_us
    return found


def _told(standing: list[Doubtful], known: list[Sample], new: list[Sample]) -> list[Doubtful]:
    """Bring doubts up to date as a store would: only the window is looked at anew."""
    times = [sample.at_us for sample in new]
    spans = [(d.from_us, d.until_us) for d in standing]
    begin, end = window_for(min(times), max(times), spans, _QUICK)
    left = [d for d in standing if d.until_us < begin or d.from_us > end]
    within = [s for s in sorted([*known, *new]) if begin <= s.at_us <= end]
    return sorted([*left, *doubts(within, _QUICK)], key=lambda d: (d.from_us, d.kind))


@given(readings=_readings(), data=st.data())
def test_looking_at_a_window_anew_is_looking_at_all_anew(
    readings: list[Sample], data: st.DataObject
) -> None:
    """Told in any order and in batches of any size: the doubts are those of all readings."""
    waiting = data.draw(st.permutations(readings))
    standing: list[Doubtful] = []
    known: list[Sample] = []
    while waiting:
        size = data.draw(st.integers(1, len(waiting)))
        batch, waiting = waiting[:size], waiting[size:]
        standing = _told(standing, known, batch)
        known = [*known, *batch]
        assert standing == doubts(sorted(known), _QUICK)
