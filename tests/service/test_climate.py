"""The air of a room: what is asked, what is said beside the figures, and the list of sensors."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from rindline_schema.answers import SensorPage
from rindline_schema.events import Correct, Declare
from rindline_schema.params import ClimateParams, PageParams
from rindline_schema.registers import Sensor
from rindline_server.service import ProblemError, Service
from rindline_server.service.climate import climate
from rindline_server.service.sensors import sensor_page
from rindline_server.store import Store
from tests.service.callers import MANAGER, STATION
from tests.service.cellar import RULE, Cellar, after, course
from tests.service.dairy import NOW

_DAY = 24 * 60


@pytest.fixture
def cellar(store: Store) -> Cellar:
    return Cellar(store)


def _steady(_: int) -> float:
    return 10.0


def _varied(minute: int) -> float:
    """Never the same twice in a row, so that no sensor counts as stuck."""
    return 10.0 + minute % 50 / 100


# --- what is unobserved --------------------------------------------------------------------------


def test_no_sensor(cellar: Cellar) -> None:
    """A room without a sensor: all of it unobserved, no figure, and it says so."""
    cellar.room()
    answer = cellar.climate(0, 600, series="hours")
    figures = answer.figures
    assert (figures.hours, figures.observed_hours, figures.unobserved_hours) == (10, 0, 10)
    assert (figures.temperature, figures.humidity, figures.mean_kinetic_temperature_c) == (
        None,
    ) * 3
    assert [(one.why, one.hours) for one in answer.unobserved] == [("no_reading", 10)]
    assert answer.notes == ["No sensor hung there in this time: nothing is known of the air."]
    assert (answer.sensors, answer.series) == ([], [])


def test_a_sensor_without_readings(cellar: Cellar) -> None:
    """A sensor that told nothing, and one whose readings are too far apart, know nothing."""
    cellar.room()
    cellar.sensor()
    answer = cellar.climate(0, 600)
    assert answer.figures.observed_hours == 0
    assert answer.notes == ["There is no reading in this time: nothing is known of the air."]
    cellar.read([(0, 10, 90), (200, 10, 90), (400, 10, 90)])
    cellar.mark_due(0, 600)
    answer = cellar.climate(0, 600)
    assert (answer.figures.observed_hours, answer.figures.readings) == (0, 3)
    assert answer.notes == [
        "The readings are too far apart in this time: nothing is known of the air."
    ]


def test_a_window_shorter_than_the_readings_are_apart(cellar: Cellar) -> None:
    """Four minutes between two readings half an hour apart: on the line between them."""
    cellar.room()
    cellar.sensor()
    cellar.read([(30, 10.0, 80.0), (60, 13.0, 86.0)])
    cellar.mark_due(0, 120)
    answer = cellar.climate(40, 44, series="hours")
    assert answer.figures.temperature is not None
    assert answer.figures.temperature.mean_c == pytest.approx(11.2, abs=1e-6)
    assert answer.figures.temperature.least_c == pytest.approx(11.0, abs=1e-6)
    assert answer.figures.humidity is not None
    assert answer.figures.humidity.most_pct == pytest.approx(82.8, abs=1e-6)
    assert (answer.figures.readings, answer.figures.unobserved_hours) == (0, 0)
    assert [(one.at, one.observed_minutes) for one in answer.series] == [(after(40), 4)]
    assert answer.unobserved == []


def test_humidity_alone_and_temperature_alone(cellar: Cellar) -> None:
    """A sensor that shows only humidity gives no temperature, and no dew point."""
    cellar.room()
    cellar.sensor()
    cellar.read(course(range(0, 300, 30), pct=_varied))
    cellar.mark_due(0, 300)
    figures = cellar.climate(0, 240).figures
    assert (figures.observed_hours, figures.humidity_observed_hours) == (0, 4)
    assert figures.humidity is not None
    assert figures.temperature is None
    assert figures.dew_point_mean_c is None


def test_hours_without_a_reading_are_named(cellar: Cellar) -> None:
    """A gap is no figure's: it is a span, hours in the figures, and a sentence."""
    cellar.room()
    cellar.sensor()
    cellar.read(course([*range(0, 300, 30), *range(600, 900, 30)], _varied))
    cellar.mark_due(0, 900)
    answer = cellar.climate(0, 870)
    assert [(one.from_at, one.until_at, one.hours) for one in answer.unobserved] == [
        (after(270), after(600), 5.5)
    ]
    (note,) = answer.notes
    assert note == (
        "For 5.5 of 14.5 hours there is no temperature (no reading, or readings more than 90 "
        "minutes apart): no figure holds for them."
    )


# --- what was told later -------------------------------------------------------------------------


def test_an_offset_declared_afterwards_changes_the_figures_and_says_so(cellar: Cellar) -> None:
    """The mean moves by the offset from its time on; the sensor's span and a note tell of it."""
    cellar.room()
    cellar.sensor()
    cellar.read(course(range(0, 600, 30), _varied))
    cellar.mark_due(0, 600)
    before = cellar.climate(120, 540)
    assert [span.told_later for span in before.sensors] == [False]
    assert before.notes == []
    cellar.now = after(90 * _DAY)
    cellar.sensor(minutes=0, offset_c=0.4, offset_humidity_pct=-1.5)
    cellar.mark_due(0, 600)
    answer = cellar.climate(120, 540)
    assert before.figures.temperature is not None
    assert answer.figures.temperature is not None
    assert answer.figures.temperature.mean_c == pytest.approx(
        before.figures.temperature.mean_c + 0.4, abs=2e-6
    )
    (span,) = answer.sensors
    assert (span.offset_c, span.offset_humidity_pct, span.told_later) == (0.4, -1.5, True)
    assert span.told_at == after(90 * _DAY)
    (note,) = answer.notes
    assert note == (
        "The offset of sensor S-1 (+0.4 degrees and -1.5 % of humidity from 2026-03-10) was told "
        "on 2026-06-08, after readings it applies to."
    )
    # Over a time with no reading it applies to, it was not told later.
    assert [one.told_later for one in cellar.climate(-600, -60).sensors] == [False]


def test_a_move_declared_afterwards_says_so(cellar: Cellar) -> None:
    """A sensor that turns out to have hung elsewhere takes its readings along, and it is said."""
    cellar.room("CAVE")
    cellar.room("STORE")
    cellar.sensor()
    cellar.read(course(range(0, 600, 30), _varied))
    cellar.now = after(90 * _DAY)
    cellar.sensor(room="STORE", minutes=300)
    for room in ("CAVE", "STORE"):
        cellar.mark_due(0, 600, room)
    assert cellar.climate(0, 570).figures.observed_hours == 4.5
    there = cellar.climate(0, 570, "STORE")
    assert there.figures.observed_hours == 4.5
    assert there.notes[-1] == (
        "Where sensor S-1 hung from 2026-03-10, and that it needs no offset, was told on "
        "2026-06-08, after readings it applies to."
    )


def test_a_declaration_told_in_a_correction(cellar: Cellar) -> None:
    """An offset that a correction puts right is told when the correction was."""
    cellar.room()
    (wrong,) = cellar.declare(0, Sensor(code="S-1", name="Sensor", room="CAVE", offset_c=4.0))
    cellar.read(course(range(0, 600, 30), _varied))
    cellar.now = after(70 * _DAY)
    assert isinstance(wrong, Declare)
    right = Declare(
        id=cellar.new_id(),
        at=wrong.at,
        site="QM",
        entry=Sensor(code="S-1", name="Sensor", room="CAVE", offset_c=0.4),
    )
    cellar.tell(
        [
            Correct(
                id=cellar.new_id(),
                at=after(0),
                site="QM",
                event=wrong.id,
                reason="misread",
                replacement=right,
            )
        ]
    )
    cellar.mark_due(0, 600)
    (span,) = cellar.climate(0, 570).sensors
    assert (span.offset_c, span.told_at, span.told_later) == (0.4, after(70 * _DAY), True)


# --- doubts --------------------------------------------------------------------------------------


@pytest.mark.parametrize("rolled", [False, True], ids=["due", "rolled_up"])
def test_readings_in_doubt_are_counted_and_named(cellar: Cellar, rolled: bool) -> None:
    """A stuck sensor: its hours are in the figures, in doubtful_hours, and in a note."""
    cellar.room()
    cellar.sensor("S-1")
    cellar.sensor("S-2")
    stuck = range(0, 3 * _DAY, 30)
    cellar.read(course(stuck, _steady, _steady), "S-1")
    cellar.read(course(range(0, 6 * _DAY, 30), _varied, _varied), "S-2")
    (cellar.roll if rolled else cellar.mark_due)(-_DAY, 7 * _DAY)
    answer = cellar.climate(_DAY, 5 * _DAY)
    assert [(d.sensor, d.kind, d.from_at, d.until_at) for d in answer.doubts] == [
        ("S-1", "stuck", after(_DAY), after(3 * _DAY - 30))
    ]
    assert answer.figures.doubtful_hours == 47.5
    assert answer.figures.observed_hours == 96
    assert answer.notes == [
        "47.5 hours rest on readings in doubt, which are counted all the same: S-1 (stuck)."
    ]


def test_doubts_belong_to_the_room_the_sensor_hung_in(cellar: Cellar) -> None:
    """Of a sensor moved while it was stuck each room has its part of the doubt."""
    cellar.room("CAVE")
    cellar.room("STORE")
    cellar.sensor()
    cellar.sensor(room="STORE", minutes=_DAY)
    cellar.read(course(range(0, 3 * _DAY, 30), _steady, _steady))
    for room in ("CAVE", "STORE"):
        cellar.roll(-_DAY, 7 * _DAY, room)
    spans = [
        [(d.from_at, d.until_at) for d in cellar.climate(-60, 5 * _DAY, room).doubts]
        for room in ("CAVE", "STORE")
    ]
    assert spans == [[(after(0), after(_DAY))], [(after(_DAY), after(3 * _DAY - 30))]]
    # The hour at the move lies between readings of two rooms: unobserved, so not in doubt either.
    assert cellar.climate(-60, 5 * _DAY).figures.doubtful_hours == 23.5


def test_doubts_of_readings_not_worked_off_yet(cellar: Cellar) -> None:
    """Readings told since extend a doubt that is kept, however long it has lasted."""
    cellar.room()
    cellar.sensor()
    cellar.read(course(range(0, 6 * _DAY, 30), _steady, _steady))
    cellar.roll(-_DAY, 7 * _DAY)
    cellar.read(course(range(6 * _DAY, 8 * _DAY, 30), _steady, _steady))
    cellar.mark_due(6 * _DAY, 8 * _DAY)
    for window in ((0, 8 * _DAY), (5 * _DAY, 5 * _DAY + 60), (0, 60)):
        (doubt,) = cellar.climate(*window).doubts
        assert doubt.detail == "the very same 10 degrees and 10 % in 384 readings over 192 hours"


# --- what can be asked ---------------------------------------------------------------------------


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


# --- sensors -------------------------------------------------------------------------------------


def _sensors(cellar: Cellar, **params: object) -> SensorPage:
    with cellar.store.reading() as snap:
        return sensor_page(snap, PageParams(**params), cellar.now)  # type: ignore[arg-type]


def test_sensors(cellar: Cellar) -> None:
    """Where a sensor hangs since when, what it showed last without its offset, its doubts."""
    cellar.room("CAVE")
    cellar.room("STORE")
    cellar.sensor("S-1", "STORE")
    cellar.sensor("S-1", "CAVE", minutes=100)
    cellar.sensor("S-1", "CAVE", minutes=200, offset_c=0.5)
    cellar.sensor("S-2", "STORE", minutes=100)
    cellar.read(course(range(0, 2 * _DAY, 30), _steady, _steady), "S-1")
    cellar.now = after(2 * _DAY)
    cellar.mark_due(0, 2 * _DAY)
    page = _sensors(cellar)
    one, other = page.sensors
    assert (one.sensor, one.room, one.site, one.since) == ("S-1", "CAVE", "QM", after(100))
    assert (one.offset_c, one.last_temperature_c, one.last_humidity_pct) == (0.5, 10, 10)
    assert (one.last_at, one.silent_minutes) == (after(2 * _DAY - 30), 30)
    assert [(doubt.kind, doubt.from_at) for doubt in one.doubts] == [("stuck", after(0))]
    assert (other.sensor, other.last_at, other.silent_minutes, other.doubts) == (
        "S-2",
        None,
        None,
        [],
    )
    assert page.next_cursor is None


def test_sensors_declared_for_later_hang_where_they_will(cellar: Cellar) -> None:
    """A declaration counts from its time on; the first one also before."""
    cellar.room("CAVE")
    cellar.room("STORE")
    cellar.sensor("S-1", "CAVE", minutes=100)
    cellar.sensor("S-1", "STORE", minutes=300)
    for now, room, since in ((0, "CAVE", 100), (299, "CAVE", 100), (300, "STORE", 300)):
        cellar.now = after(now)
        (state,) = _sensors(cellar).sensors
        assert (state.room, state.since) == (room, after(since))


def test_sensors_page_by_page(cellar: Cellar) -> None:
    """Pages follow on one another by code and end without a cursor."""
    cellar.room()
    for number in range(5):
        cellar.sensor(f"S-{number}")
    seen: list[str] = []
    cursor = None
    while True:
        page = _sensors(cellar, limit=2, cursor=cursor)
        seen += [state.sensor for state in page.sensors]
        cursor = page.next_cursor
        if cursor is None:
            break
    assert seen == [f"S-{number}" for number in range(5)]


def test_of_many_doubts_the_last_twenty(cellar: Cellar) -> None:
    """A sensor with thirty jumps shows the last twenty of them, in order of time."""
    cellar.room()
    cellar.sensor()
    jumps = [one for n in range(30) for one in ((n * 100, 10.0, None), (n * 100 + 5, 20.0, None))]
    cellar.read(jumps)
    cellar.mark_due(0, 3000)
    (state,) = _sensors(cellar).sensors
    assert [doubt.from_at for doubt in state.doubts] == [after(n * 100) for n in range(10, 30)]


def test_the_service_answers_both(cellar: Cellar, service: Service) -> None:
    """Through the service the time ends now, for every caller of the business alike."""
    cellar.room()
    cellar.sensor()
    answer = service.climate(STATION, "CAVE", ClimateParams())
    assert answer.until_at == NOW
    assert answer.as_of == 3
    assert answer == service.climate(MANAGER, "CAVE", ClimateParams())
    assert [state.sensor for state in service.sensors(STATION, PageParams()).sensors] == ["S-1"]
