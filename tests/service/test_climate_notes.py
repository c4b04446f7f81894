"""What is said beside the figures of a room's air: gaps, what was told later, doubts."""

import pytest

from rindline_schema.events import Correct, Declare
from rindline_schema.registers import Sensor
from rindline_server.store import Store
from tests.service.cellar import Cellar, after, course

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
