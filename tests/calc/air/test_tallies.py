"""Hours added up are one direct integration of the raw readings, however they are cut."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline_server.calc.air import (
    HOUR_US,
    NOTHING_OBSERVED,
    AirRule,
    Limits,
    LimitSpan,
    Sample,
    Tally,
    figures,
    hourly,
    merge,
    sample_of,
    spells_of,
    unseen_of,
    unseen_over,
)
from rindline_server.calc.air.packing import spread_of
from tests.calc.air import reference

_RULE = AirRule(cold_c=7.0)
_SPAN_US = 8 * HOUR_US
_MOMENTS = st.integers(0, _SPAN_US // 500_000).map(lambda half_s: half_s * 500_000) | st.integers(
    0, _SPAN_US
)
_MINUTES = st.integers(0, _SPAN_US // 60_000_000).map(lambda minute: minute * 60_000_000)


@st.composite
def _sensors(draw: st.DrawFn) -> list[list[Sample]]:
    """One to three sensors: irregular times, gaps, a quantity missing now and then, offsets."""
    found = []
    for _ in range(draw(st.integers(1, 3))):
        times = sorted(draw(st.sets(_MINUTES | _MOMENTS, max_size=14)))
        offset_c, offset_pct = draw(st.sampled_from([(0.0, 0.0), (0.3, -2.5), (-1.25, 4.0)]))
        c = st.none() | st.integers(4_000, 14_000) | st.sampled_from([7_000, 8_000, 10_000])
        pct = st.none() | st.integers(80_000, 100_000) | st.sampled_from([90_000])
        found.append([sample_of(at, draw(c), draw(pct), offset_c, offset_pct) for at in times])
    return found


@st.composite
def _limits(draw: st.DrawFn) -> list[LimitSpan]:
    """Limits that change at any time; there may be none for a while."""
    edges = sorted(draw(st.sets(_MOMENTS | _MINUTES, max_size=4)))
    kinds = st.sampled_from(
        [Limits(), Limits(6, 10, 85, 95), Limits(most_c=9.0), Limits(8, 8, 90, 90)]
    )
    return [(a, b, draw(kinds)) for a, b in pairwise(edges)]


def _cut(draw_from: int, draw_until: int) -> tuple[int, int]:
    return min(draw_from, draw_until), max(draw_from, draw_until)


def _merged(
    series: list[list[Sample]], limits: list[LimitSpan], from_us: int, until_us: int
) -> Tally:
    return merge(part for *_, part in hourly(series, limits, from_us, until_us, _RULE))


@given(series=_sensors(), limits=_limits(), a=_MOMENTS, b=_MOMENTS)
def test_hours_added_up_equal_the_direct_integration(
    series: list[list[Sample]], limits: list[LimitSpan], a: int, b: int
) -> None:
    """Every area to 1e-9 of exact fractions, every time to the microsecond of its crossings."""
    from_us, until_us = _cut(a, b)
    ours = _merged(series, limits, from_us, until_us)
    direct = reference.integrate(series, limits, from_us, until_us, _RULE)
    assert ours.readings == direct.readings
    assert ours.c_us == reference.time_us(direct.c)
    assert ours.humidity_us == reference.time_us(direct.pct)
    assert ours.both_us == reference.time_us([c for c, _ in direct.both])
    assert ours.area_c_h == pytest.approx(reference.area_h(direct.c), rel=1e-9)
    assert ours.area_pct_h == pytest.approx(reference.area_h(direct.pct), rel=1e-9)
    dew_c_h = reference.moist_h(direct.both, reference.DEW)
    assert ours.dew_c_h == pytest.approx(dew_c_h, rel=1e-9)
    deficit_kpa_h = reference.moist_h(direct.both, reference.DEFICIT)
    assert ours.deficit_kpa_h == pytest.approx(deficit_kpa_h, rel=1e-9, abs=1e-15)
    # The exponential is about 1e-16: without an absolute tolerance of nothing, anything would do.
    kinetic_h = reference.kinetic_h(direct.c, _RULE)
    assert ours.kinetic_h == pytest.approx(kinetic_h, rel=1e-9, abs=0)
    degree_c_h = reference.above_h(direct.c, _RULE.base_c)
    assert ours.degree_c_h == pytest.approx(degree_c_h, rel=1e-9, abs=1e-12)
    # Each crossing may be off by a microsecond, and by the hair's breadth allowed for rounding.
    crossings = 20 * (len(direct.c) + len(direct.pct) + 1)
    cold_us = reference.below_us(direct.c, _RULE.cold_c)
    assert ours.cold_us == pytest.approx(cold_us, abs=crossings)
    for what, spans in direct.outside.items():
        outside_us = getattr(ours, f"{what}_us")
        assert outside_us == pytest.approx(reference.length_us(spans), abs=crossings)


@given(series=_sensors(), limits=_limits(), a=_MOMENTS, b=_MOMENTS)
def test_extremes_are_those_of_the_course(
    series: list[list[Sample]], limits: list[LimitSpan], a: int, b: int
) -> None:
    """Least and most are found at the ends of the straight lines; None if nothing was seen."""
    from_us, until_us = _cut(a, b)
    ours = _merged(series, limits, from_us, until_us)
    direct = reference.integrate(series, limits, from_us, until_us, _RULE)
    for lines, least, most in (
        (direct.c, ours.least_c, ours.most_c),
        (direct.pct, ours.least_pct, ours.most_pct),
    ):
        ends = [float(x) for line in lines for x in line[2:]]
        if not ends:
            assert (least, most) == (None, None)
        else:
            assert least == pytest.approx(min(ends), rel=1e-12)
            assert most == pytest.approx(max(ends), rel=1e-12)


@given(series=_sensors(), a=_MOMENTS, b=_MOMENTS)
def test_percentiles_lie_where_the_time_says(series: list[list[Sample]], a: int, b: int) -> None:
    """No more than p % of the time is below the figure less half a step, no less below it plus."""
    from_us, until_us = _cut(a, b)
    ours = _merged(series, [], from_us, until_us)
    direct = reference.integrate(series, [], from_us, until_us, _RULE)
    found = figures(ours, _RULE)
    for figure, lines, half in ((found.c, direct.c, 0.05), (found.pct, direct.pct, 0.25)):
        if figure is None:
            assert lines == []
            continue
        assert figure.least <= figure.mean <= figure.most
        whole_us = reference.time_us(lines)
        slack = 2 * len(lines) + 2
        for percent, at in ((5, figure.p05), (50, figure.p50), (95, figure.p95)):
            assert figure.least <= at <= figure.most
            asked = whole_us * percent / 100
            assert reference.below_us(lines, at - half - 1e-9) <= asked + slack
            assert reference.below_us(lines, at + half + 1e-9) >= asked - slack


@given(series=_sensors(), a=_MOMENTS, b=_MOMENTS)
def test_spreads_hold_all_the_observed_time(series: list[list[Sample]], a: int, b: int) -> None:
    """The steps of a spread add up to the observed time, to the microsecond."""
    ours = _merged(series, [], *_cut(a, b))
    assert sum(spread_of(ours.c_spread).values()) == ours.c_us
    assert sum(spread_of(ours.humidity_spread).values()) == ours.humidity_us


@given(series=_sensors(), limits=_limits(), a=_MOMENTS, b=_MOMENTS)
def test_spells_and_gaps_are_joined_over_the_hours(
    series: list[list[Sample]], limits: list[LimitSpan], a: int, b: int
) -> None:
    """As many spells as the direct course has under limits that stay, each as long; gaps too."""
    from_us, until_us = _cut(a, b)
    held = [(0, _SPAN_US + 1, limits[0][2] if limits else Limits(most_c=8.0))]
    parts = hourly(series, held, from_us, until_us, _RULE)
    spells = spells_of(merge(part for *_, part in parts))
    direct = reference.integrate(series, held, from_us, until_us, _RULE)
    for what, spans in direct.outside.items():
        expected = [(x, y) for x, y in reference.joined(spans) if y - x > 50]
        found = [s for s in spells if s.what == what and s.until_us - s.from_us > 50]
        if not any(0 < y - x < 100 for x, y in reference.joined(spans)):
            assert len(found) == len(expected)
            for spell, (x, y) in zip(found, expected, strict=True):
                assert spell.from_us == pytest.approx(float(x), abs=20)
                assert spell.until_us == pytest.approx(float(y), abs=20)
    seen = reference.joined([(Fraction(u), Fraction(v)) for u, v, *_ in direct.c])
    edges = [from_us, *(int(at) for span in seen for at in span), until_us]
    gaps = [(u, v) for u, v in zip(edges[::2], edges[1::2], strict=True) if u < v]
    assert unseen_over(parts, from_us, until_us) == gaps


@given(series=_sensors(), limits=_limits(), a=_MOMENTS, b=_MOMENTS)
def test_limits_change_nothing_about_what_was_seen(
    series: list[list[Sample]], limits: list[LimitSpan], a: int, b: int
) -> None:
    """Cut where limits change, an hour has the same gaps, time and readings as without limits."""
    from_us, until_us = _cut(a, b)
    held, free = (_merged(series, one, from_us, until_us) for one in (limits, []))
    assert unseen_of(held) == unseen_of(free)
    assert (held.c_us, held.humidity_us, held.readings) == (
        free.c_us,
        free.humidity_us,
        free.readings,
    )


@given(series=_sensors(), limits=_limits(), data=st.data())
def test_the_order_of_sensors_and_the_grouping_of_hours_do_not_matter(
    series: list[list[Sample]], limits: list[LimitSpan], data: st.DataObject
) -> None:
    """Any grouping of hours gives the same counts exactly and the same areas to 1e-9."""
    parts = [part for *_, part in hourly(series, limits, 0, _SPAN_US, _RULE)]
    whole = merge(parts)
    place = data.draw(st.integers(0, len(parts)))
    _assert_same(merge([merge(parts[:place]), merge(parts[place:])]), whole)
    _assert_same(merge([NOTHING_OBSERVED, *data.draw(st.permutations(parts))]), whole)
    turned = data.draw(st.permutations(series))
    other = _merged(turned, limits, 0, _SPAN_US)
    assert other.area_c_h == pytest.approx(whole.area_c_h, rel=1e-9)
    assert (other.c_us, other.both_us) == (whole.c_us, whole.both_us)


@given(series=_sensors(), limits=_limits(), hour=st.integers(0, 8))
def test_a_whole_hour_is_no_seam(
    series: list[list[Sample]], limits: list[LimitSpan], hour: int
) -> None:
    """Asked in two at a whole hour or asked at once: the same, whichever readings lie around."""
    first = _merged(series, limits, 0, hour * HOUR_US)
    second = _merged(series, limits, hour * HOUR_US, _SPAN_US)
    _assert_same(merge([first, second]), _merged(series, limits, 0, _SPAN_US))


@given(series=_sensors(), a=_MOMENTS)
def test_a_cut_anywhere_keeps_areas_and_times(series: list[list[Sample]], a: int) -> None:
    """A stay that ends at 10:17 and one that begins then share the course: nothing is lost."""
    both = merge([_merged(series, [], 0, a), _merged(series, [], a, _SPAN_US)])
    whole = _merged(series, [], 0, _SPAN_US)
    assert (both.readings, both.c_us, both.humidity_us) == (
        whole.readings,
        whole.c_us,
        whole.humidity_us,
    )
    assert both.area_c_h == pytest.approx(whole.area_c_h, rel=1e-9)
    assert both.degree_c_h == pytest.approx(whole.degree_c_h, rel=1e-9, abs=1e-12)


def _assert_same(ours: Tally, expected: Tally) -> None:
    for name, value in expected._asdict().items():
        if name not in {"spells", "unseen"}:
            assert getattr(ours, name) == (
                pytest.approx(value, rel=1e-9, abs=1e-30) if isinstance(value, float) else value
            ), name
    assert spells_of(ours) == spells_of(expected)
    assert unseen_of(ours) == unseen_of(expected)
