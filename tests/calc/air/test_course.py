"""The course of a room's air at its edges: gaps, cuts, single readings, several sensors."""

import pytest

from rindline_server.calc.air import (
    HOUR_US,
    NOTHING_OBSERVED,
    AirRule,
    Limits,
    Sample,
    Stretch,
    figures,
    hourly,
    mean_kinetic_c,
    merge,
    sample_at,
    sample_of,
    spells_of,
    stretches,
    tally,
    unseen_over,
)

_RULE = AirRule()
_MINUTE_US = 60_000_000
_GAP_US = _RULE.longest_gap_us


def _course(*values: tuple[float, float | None, float | None]) -> list[Sample]:
    return [Sample(round(minute * _MINUTE_US), c, pct) for minute, c, pct in values]


def test_no_readings_at_all() -> None:
    """Nothing told: no stretch, no hour, nothing observed, no figure; all of it is unseen."""
    assert stretches([], 0, HOUR_US, _GAP_US) == []
    assert stretches([[]], 0, HOUR_US, _GAP_US) == []
    parts = hourly([[]], [], 0, 3 * HOUR_US, _RULE)
    assert parts == []
    assert merge([]) == NOTHING_OBSERVED
    assert unseen_over(parts, 0, 3 * HOUR_US) == [(0, 3 * HOUR_US)]
    assert figures(merge([]), _RULE) == (None,) * 6


def test_one_reading_is_counted_but_observes_nothing() -> None:
    """A single reading has no length: it is counted in its hour, which is unseen."""
    ((begin, end, part),) = hourly([_course((90, 10.0, 90.0))], [], 0, 3 * HOUR_US, _RULE)
    assert (begin, end) == (HOUR_US, 2 * HOUR_US)
    assert (part.readings, part.c_us, part.least_c) == (1, 0, None)
    assert unseen_over([(begin, end, part)], 0, 3 * HOUR_US) == [(0, 3 * HOUR_US)]
    assert figures(part, _RULE).c is None


def test_a_reading_on_the_hour_belongs_to_the_later_hour() -> None:
    """Readings at 0:59, 1:00 and 2:00, asked for until 2:00: one, one and none."""
    series = [_course((59, 10.0, None), (60, 11.0, None), (120, 12.0, None))]
    parts = hourly(series, [], 0, 2 * HOUR_US, _RULE)
    assert [part.readings for *_, part in parts] == [1, 1]


def test_a_gap_of_the_longest_length_is_bridged_and_a_longer_one_is_not() -> None:
    """90 minutes between readings are a straight line, a microsecond more is unobserved."""
    bridged = [Sample(0, 10.0, 90.0), Sample(_GAP_US, 12.0, 90.0)]
    broken = [Sample(0, 10.0, 90.0), Sample(_GAP_US + 1, 12.0, 90.0)]
    assert sum(s.until_us - s.from_us for s in stretches([bridged], 0, _GAP_US, _GAP_US)) == _GAP_US
    assert stretches([broken], 0, _GAP_US + 1, _GAP_US) == []
    assert sample_at(bridged, _GAP_US // 2, _GAP_US) == Sample(_GAP_US // 2, 11.0, 90.0)
    assert sample_at(broken, _GAP_US // 2, _GAP_US) is None


def test_a_window_shorter_than_the_time_between_readings() -> None:
    """Ten minutes between two hourly readings: interpolated at both ends, no reading counted."""
    series = [_course((0, 10.0, 80.0), (60, 16.0, 92.0))]
    begin, end = 20 * _MINUTE_US, 30 * _MINUTE_US
    course = stretches(series, begin, end, _GAP_US)
    assert course == [Stretch(begin, end, 12.0, 13.0, 84.0, 86.0)]
    ((_, _, part),) = hourly(series, [], begin, end, _RULE)
    found = figures(part, _RULE)
    assert (part.readings, part.c_us) == (0, 10 * _MINUTE_US)
    assert found.c is not None
    assert found.c.mean == pytest.approx(12.5)


def test_an_empty_window_holds_nothing() -> None:
    """From a time to itself, or to an earlier one, is no time."""
    series = [_course((0, 10.0, 80.0), (60, 16.0, 92.0))]
    assert stretches(series, _MINUTE_US, _MINUTE_US, _GAP_US) == []
    assert hourly(series, [], 2 * _MINUTE_US, _MINUTE_US, _RULE) == []


def test_readings_far_outside_a_window_serve_to_interpolate_but_not_to_be_counted() -> None:
    """The line into a window comes from the reading before it, within the longest gap."""
    series = [_course((-200, 1.0, None), (-80, 10.0, None), (10, 11.0, None), (400, 1.0, None))]
    course = stretches(series, 0, HOUR_US, _GAP_US)
    assert [(s.from_us, s.until_us) for s in course] == [(0, 10 * _MINUTE_US)]
    assert course[0].from_c == pytest.approx(10 + 80 / 90)


def test_a_reading_without_humidity_does_not_break_the_course_of_humidity() -> None:
    """Each quantity goes from one of its own readings to the next."""
    series = [_course((0, 10.0, 80.0), (30, 11.0, None), (60, 10.0, 90.0))]
    course = stretches(series, 0, HOUR_US, _GAP_US)
    assert [(s.from_pct, s.until_pct) for s in course] == [(80.0, 85.0), (85.0, 90.0)]
    assert [(s.from_c, s.until_c) for s in course] == [(10.0, 11.0), (11.0, 10.0)]


def test_two_sensors_are_averaged_while_both_are_observed() -> None:
    """The mean of both while both have a course, of the one that is left afterwards."""
    series = [
        _course((0, 10.0, None), (60, 10.0, None)),
        _course((0, 12.0, None), (30, 14.0, None)),
    ]
    course = stretches(series, 0, HOUR_US, _GAP_US)
    assert [(s.from_c, s.until_c) for s in course] == [(11.0, 12.0), (10.0, 10.0)]


def test_a_temperature_seen_by_one_and_a_humidity_by_another() -> None:
    """The room's dew point comes from both together, where both are observed."""
    series = [
        _course((0, 10.0, None), (60, 10.0, None)),
        _course((15, None, 90.0), (45, None, 90.0)),
    ]
    ((_, _, part),) = hourly(series, [], 0, HOUR_US, _RULE)
    assert (part.c_us, part.humidity_us) == (HOUR_US, HOUR_US // 2)
    assert part.both_us == HOUR_US // 2
    assert figures(part, _RULE).dew_point_c == pytest.approx(8.437, abs=5e-4)


def test_offsets_are_added_and_humidity_stays_possible() -> None:
    """Thousandths become degrees and %, offset added; no more than 100 %, no less than 0 %."""
    assert sample_of(5, 12_345, 88_000, -0.25, 1.5) == Sample(5, 12.095, 89.5)
    assert sample_of(5, None, 99_000, 0.0, 3.0).pct == 100.0
    assert sample_of(5, None, 1_000, 0.0, -3.0).pct == 0.0
    assert sample_of(5, 1_000, None) == Sample(5, 1.0, None)


def test_minutes_outside_go_by_interpolated_crossings() -> None:
    """From 9 to 13 and back in two hours, above 12: 30 minutes around the top, one spell."""
    series = [_course((0, 9.0, None), (60, 13.0, None), (120, 9.0, None))]
    held = [(0, 2 * HOUR_US, Limits(most_c=12.0))]
    whole = merge(part for *_, part in hourly(series, held, 0, 2 * HOUR_US, _RULE))
    assert whole.too_warm_us == 30 * _MINUTE_US
    (spell,) = spells_of(whole)
    assert spell == ("too_warm", 45 * _MINUTE_US, 75 * _MINUTE_US, 12.0, 13.0)


def test_air_at_its_limit_is_within_it() -> None:
    """A limit is the last value allowed: air that stays on it is not outside."""
    series = [_course((0, 12.0, 85.0), (60, 12.0, 85.0))]
    held = [(0, HOUR_US, Limits(12.0, 12.0, 85.0, 85.0))]
    whole = merge(part for *_, part in hourly(series, held, 0, HOUR_US, _RULE))
    assert spells_of(whole) == []
    assert whole.too_cold_us + whole.too_warm_us + whole.too_dry_us + whole.too_damp_us == 0


def test_a_limit_is_not_passed_by_a_rounding() -> None:
    """A sum of offset and reading, or a mean of sensors, that is 1e-15 off is not outside."""
    assert 6.2 + 0.9 > 7.1
    assert sample_of(0, 6_200, None, 0.9).c == 7.1
    series = [_course((0, c, None), (60, c, None)) for c in (0.1, 0.2, 0.3)]
    held = [(0, HOUR_US, Limits(least_c=0.2, most_c=0.2))]
    ((_, _, part),) = hourly(series, held, 0, HOUR_US, _RULE)
    assert part.least_c != 0.2
    assert spells_of(part) == []


def test_a_spell_shorter_than_a_microsecond_is_none() -> None:
    """A line that starts a billionth of a degree too warm and falls is out for no time at all."""
    series = [_course((0, 12.000000001, None), (60, 4.0, None))]
    held = [(0, HOUR_US, Limits(most_c=12.0))]
    ((_, _, part),) = hourly(series, held, 0, HOUR_US, _RULE)
    assert spells_of(part) == []


def test_limits_hold_for_their_time_only() -> None:
    """A limit tightened at half past: the first half goes by the old one, and the spells say so."""
    series = [_course((0, 11.0, 97.0), (60, 11.0, 97.0))]
    half = 30 * _MINUTE_US
    held = [(0, half, Limits(most_c=12.0)), (half, HOUR_US, Limits(most_c=10.0))]
    ((_, _, part),) = hourly(series, held, 0, HOUR_US, _RULE)
    assert part.too_warm_us == half
    assert spells_of(part) == [("too_warm", half, HOUR_US, 10.0, 11.0)]


def test_a_changed_limit_begins_another_spell() -> None:
    """Too warm by one limit, then by a tighter one: two spells, each with its limit."""
    series = [_course((0, 13.0, None), (60, 14.0, None))]
    half = 30 * _MINUTE_US
    held = [(0, half, Limits(most_c=12.0)), (half, HOUR_US, Limits(most_c=10.0))]
    ((_, _, part),) = hourly(series, held, 0, HOUR_US, _RULE)
    assert [(s.limit, s.worst) for s in spells_of(part)] == [(12.0, 13.5), (10.0, 14.0)]


def test_a_spell_broken_by_a_gap_is_two() -> None:
    """What nobody observed is not called outside: the spell ends with the last reading."""
    series = [_course((0, 14.0, None), (30, 14.0, None), (150, 14.0, None), (170, 15.0, None))]
    held = [(0, 3 * HOUR_US, Limits(most_c=12.0))]
    whole = merge(part for *_, part in hourly(series, held, 0, 3 * HOUR_US, _RULE))
    assert [(s.from_us // _MINUTE_US, s.until_us // _MINUTE_US) for s in spells_of(whole)] == [
        (0, 30),
        (150, 170),
    ]


def test_the_worst_of_a_spell_is_on_its_side_of_the_limit() -> None:
    """Too dry and too cold keep the lowest, too damp and too warm the highest, over hours too."""
    series = [
        _course(
            (50, 6.0, 99.0), (62, 5.0, 98.0), (70, 3.0, 97.0), (80, 5.0, 100.0), (85, 6.0, 97.0)
        ),
    ]
    held = [(0, 2 * HOUR_US, Limits(least_c=8.0, most_pct=96.0))]
    whole = merge(part for *_, part in hourly(series, held, 0, 2 * HOUR_US, _RULE))
    assert [(s.what, s.worst) for s in spells_of(whole)] == [("too_cold", 3.0), ("too_damp", 100.0)]


def test_time_below_the_cold_mark_is_counted_by_itself() -> None:
    """From 2.67 to 0.67 degrees in an hour: half of it below 1.67."""
    series = [_course((0, 2.67, None), (60, 0.67, None))]
    ((_, _, part),) = hourly(series, [], 0, HOUR_US, _RULE)
    assert part.cold_us == pytest.approx(HOUR_US / 2, abs=1)


def test_a_steady_temperature_gives_itself_in_every_figure() -> None:
    """Mean, percentiles and mean kinetic temperature of an even room are that temperature."""
    series = [_course(*[(5 * i, 12.04, 90.1) for i in range(25)])]
    whole = merge(part for *_, part in hourly(series, [], 0, 2 * HOUR_US, _RULE))
    found = figures(whole, _RULE)
    assert found.c is not None
    assert found.pct is not None
    assert found.c == pytest.approx([12.04] * 6)
    assert found.pct == pytest.approx([90.1] * 6)
    assert found.mean_kinetic_c == pytest.approx(12.04, abs=1e-9)


def test_a_mean_is_never_below_the_least() -> None:
    """A sum rounded in its last digit would put the mean of a steady 5.02 below it."""
    apart_us = 300_000_017
    series = [[sample_of(i * apart_us, 5_020, None) for i in range(25)]]
    whole = merge(part for *_, part in hourly(series, [], 0, 24 * apart_us, _RULE))
    found = figures(whole, _RULE).c
    assert whole.area_c_h / (whole.c_us / HOUR_US) < 5.02
    assert found is not None
    assert found.mean == found.least == 5.02


def test_the_setting_of_the_activation_energy_is_used() -> None:
    """Half at 2, half at 12 degrees: the mean kinetic temperature of both, by two settings."""
    series = [_course((0, 2.0, None), (30, 2.0, None), (30.001, 12.0, None), (60, 12.0, None))]
    for kj_per_mol in (40.0, 83.144):
        rule = _RULE._replace(activation_kj_per_mol=kj_per_mol)
        found_c = figures(hourly(series, [], 0, HOUR_US, rule)[0][2], rule).mean_kinetic_c
        assert found_c == pytest.approx(mean_kinetic_c([2.0, 12.0], kj_per_mol), abs=1e-3)


def test_a_tally_without_limits_needs_none() -> None:
    """Without limits nothing is outside, however odd the air."""
    course = stretches([_course((0, -30.0, 0.0), (60, 80.0, 100.0))], 0, HOUR_US, _GAP_US)
    whole = tally(course, Limits(), _RULE, 2, 0, HOUR_US)
    assert spells_of(whole) == []
    assert whole.readings == 2
