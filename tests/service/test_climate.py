"""What can be asked about a room's air: times, and the air hour by hour."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from rindline_schema.params import ClimateParams
from rindline_server.service import ProblemError
from rindline_server.service.air.climate import climate
from rindline_server.store import Store
from tests.service.cellar import RULE, Cellar, after, course

_DAY = 24 * 60


@pytest.fixture
def cellar(store: Store) -> Cellar:
    return Cellar(store)


def _varied(minute: int) -> float:
    """Never the same twice in a row, so that no sensor counts as stuck."""
    return 10.0 + minute % 50 / 100


def test_the_usual_time_is_the_last_28_days(cellar: Cellar) -> None:
    """Without times the answer is of the 28 days up to now; with an end, of those before it."""
    cellar.room()
    with cellar.store.reading() as snap:
        answer = climate(snap, "CAVE", ClimateParams(), RULE, cellar.now)
        earlier = climate(snap, "CAVE", ClimateParams(until_at=after(0)), RULE, cellar.now)
    assert (answer.from_at, answer.until_at) == (cellar.now - timedelta(days=28), cellar.now)
    assert (earlier.from_at, earlier.until_at) == (after(-28 * _DAY), after(0))
    assert "accredited laboratory" in answer.safety_note


@pytest.mark.parametrize(
    ("params", "named"),
    [
        (ClimateParams(from_at=after(10), until_at=after(10)), "from_at"),
        (ClimateParams(from_at=after(11), until_at=after(10)), "from_at"),
        (ClimateParams(from_at=after(400 * _DAY)), "from_at"),
        (ClimateParams(from_at=after(-400 * _DAY - 1), until_at=after(0)), "from_at"),
        (ClimateParams(until_at=datetime.min.replace(tzinfo=UTC)), "until_at"),
        (ClimateParams(from_at=datetime.max.replace(tzinfo=UTC)), "from_at"),
    ],
    ids=["empty", "backwards", "in_the_future", "too_long", "long_ago", "far_ahead"],
)
def test_times_that_are_none_are_refused(cellar: Cellar, params: ClimateParams, named: str) -> None:
    """Each fault names the parameter; nothing is computed."""
    cellar.room()
    with cellar.store.reading() as snap, pytest.raises(ProblemError) as caught:
        climate(snap, "CAVE", params, RULE, cellar.now)
    assert caught.value.problem.code == "unknown_parameter"
    assert [fault.pointer for fault in caught.value.problem.faults] == [named]


def test_400_days_are_not_too_long(cellar: Cellar) -> None:
    """The longest time that can be asked for is answered."""
    cellar.room()
    assert cellar.climate(-400 * _DAY, 0).figures.hours == 400 * 24


def test_no_such_room(cellar: Cellar) -> None:
    """A room nobody declared is not found."""
    with pytest.raises(ProblemError) as caught:
        cellar.climate(0, 60, "CAVE")
    assert caught.value.problem.code == "not_found"


def test_times_with_another_offset_are_the_same_moments(cellar: Cellar) -> None:
    """Over a change of the clock: figures are those of the same instants told in UTC."""
    cellar.room()
    cellar.sensor()
    # In much of Europe clocks went from +01:00 to +02:00 on 29 March 2026 at 01:00 UTC
    # (from memory: the last Sunday in March).
    begin = round((datetime(2026, 3, 28, tzinfo=UTC) - after(0)) / timedelta(minutes=1))
    cellar.read(course(range(begin, begin + 2 * _DAY, 10), _varied, _varied))
    cellar.mark_due(begin, begin + 2 * _DAY)
    winter, summer = timezone(timedelta(hours=1)), timezone(timedelta(hours=2))
    asked = ClimateParams(
        from_at=datetime(2026, 3, 28, 12, tzinfo=winter),
        until_at=datetime(2026, 3, 29, 12, tzinfo=summer),
        series="hours",
    )
    with cellar.store.reading() as snap:
        answer = climate(snap, "CAVE", asked, RULE, cellar.now)
    assert answer.figures.hours == 23
    assert answer == cellar.climate(begin + 11 * 60, begin + 34 * 60, series="hours")
    assert answer.from_at.utcoffset() == timedelta()
    assert len(answer.series) == 23


def test_series_by_hours_and_days(cellar: Cellar) -> None:
    """Hours and days of UTC, the first and last cut; an hour without anything is left out."""
    cellar.room(most_c=10.2)
    cellar.sensor()
    cellar.read(course([*range(0, 600, 10), *range(900, 2000, 10)], _varied, _varied))
    cellar.mark_due(0, 2100)
    hours = cellar.climate(30, 1990, series="hours").series
    assert [one.at for one in hours[:2]] == [after(30), after(60)]
    assert [one.hours for one in hours[:2]] == [0.5, 1.0]
    assert {one.room for one in hours} == {"CAVE"}
    # Hours 10 to 14 have no reading; hour 9 ends with the reading at 9:50.
    assert [one.at for one in hours[9:11]] == [after(540), after(900)]
    assert hours[9].observed_minutes == 50
    days = cellar.climate(30, 1990, series="days").series
    assert [one.at for one in days] == [after(30), after(_DAY)]
    assert sum(one.observed_minutes for one in days) == pytest.approx(
        sum(one.observed_minutes for one in hours), abs=1e-4
    )
    assert sum(one.outside_minutes for one in days) == pytest.approx(
        sum(one.outside_minutes for one in hours), abs=1e-3
    )
    assert hours[1].outside_minutes > 0
    assert cellar.climate(30, 1990).series == []


def test_minutes_outside_two_limits_at_once_count_once(cellar: Cellar) -> None:
    """Too warm and too dry in the same half hour: 30 minutes of the hour are outside."""
    cellar.room(most_c=12, least_humidity_pct=80)
    cellar.sensor()
    cellar.read([(0, 13.0, 70.0), (30, 13.0, 70.0), (30.001, 11.0, 90.0), (60, 11.0, 90.0)])
    cellar.mark_due(0, 60)
    answer = cellar.climate(0, 60, series="hours")
    assert answer.figures.outside.too_warm_minutes == pytest.approx(30, abs=0.01)
    assert answer.figures.outside.too_dry_minutes == pytest.approx(30, abs=0.01)
    assert answer.series[0].outside_minutes == pytest.approx(30, abs=0.01)
    assert {(one.what, one.limit_c, one.limit_humidity_pct) for one in answer.figures.spells} == {
        ("too_warm", 12, None),
        ("too_dry", None, 80),
    }


def test_of_many_spells_the_first_are_given(cellar: Cellar) -> None:
    """An air that crosses its limit every ten minutes: 200 spells are given, all are counted."""
    cellar.room(most_c=10)
    cellar.sensor()
    cellar.read(course(range(0, 5000, 10), lambda minute: 9.5 + minute // 10 % 2))
    cellar.mark_due(0, 5000)
    figures = cellar.climate(0, 4990).figures
    assert (len(figures.spells), figures.spell_count) == (200, 250)
    assert figures.spells[0].from_at == after(5)
    assert figures.spells[0].worst_c == 10.5
