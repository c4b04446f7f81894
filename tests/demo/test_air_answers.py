"""The demo's air as the record answers it: every incident is found, every room has air."""

from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest

from rindline_schema.answers import ClimateAnswer, ConditionsAnswer
from rindline_schema.codes import kind_of_code
from rindline_schema.params import ClimateParams, ConditionsParams, PageParams
from rindline_schema.registers import Room, Sensor
from rindline_server.app import open_service
from rindline_server.demo import SMALL
from rindline_server.demo.air import count_readings, readings_of
from rindline_server.demo.air_incidents import COMPRESSOR, DOOR, GAP, KNOCKED, KNOCKED_C, STUCK
from rindline_server.demo.dates import LAST_DAY, at
from rindline_server.demo.registers import DAIRY, ENTRIES
from rindline_server.service import Caller, Service
from rindline_server.settings import Settings
from tests.demo.conftest import Folded, Ran

pytestmark = pytest.mark.slow

_AUDITOR = Caller("test", "auditor", "auditor", None, None, None)
_ROOMS = [entry.code for entry in ENTRIES if isinstance(entry, Room)]
_FROM, _UNTIL = at(0, 0), at(LAST_DAY + 1, 0)
_READINGS_APART = timedelta(minutes=SMALL.reading_minutes)
_RECOVERY = timedelta(hours=6)


@pytest.fixture(scope="module")
def service(ran: Ran) -> Iterator[Service]:
    """The record that the small demo left."""
    with open_service(Settings(database_url=f"sqlite:///{ran.database}")) as opened:
        yield opened


def _climate(service: Service, room: str) -> ClimateAnswer:
    return service.climate(_AUDITOR, room, ClimateParams(from_at=_FROM, until_at=_UNTIL))


def _near(one: datetime, other: datetime, within: timedelta = _READINGS_APART) -> bool:
    return abs(one - other) <= within


def _sensor(room: str) -> str:
    return next(e.code for e in ENTRIES if isinstance(e, Sensor) and e.room == room)


def test_all_readings_were_told_and_none_refused(ran: Ran) -> None:
    """The command says how many, and that none was refused."""
    told = [line for line in ran.process.stdout.splitlines() if "readings of the sensors" in line]
    (line,) = told
    assert line.startswith(f"Told {count_readings(SMALL)} readings")
    assert "second; none was refused." in ran.process.stdout


def test_every_room_has_air(service: Service) -> None:
    """Every room's twelve weeks are observed but for the gap, by one sensor, all readings kept."""
    readings = 0
    for room in _ROOMS:
        answer = _climate(service, room)
        figures = answer.figures
        readings += figures.readings
        assert {span.sensor for span in answer.sensors} == {_sensor(room)}
        gap_h = 48.5 if room == GAP.room else 0.0
        # After the last reading nothing is observed.
        assert figures.unobserved_hours == pytest.approx(gap_h + 0.5)
        assert figures.humidity_observed_hours == pytest.approx(figures.observed_hours)
    assert readings == count_readings(SMALL)


def test_the_failed_compressor_is_a_spell_too_warm(service: Service) -> None:
    """One spell of about a day in that vault and no other; its worst is far above the limit."""
    answer = _climate(service, COMPRESSOR.room)
    (spell,) = answer.figures.spells
    assert spell.what == "too_warm"
    assert COMPRESSOR.from_at < spell.from_at < COMPRESSOR.from_at + timedelta(hours=5)
    assert COMPRESSOR.until_at < spell.until_at < COMPRESSOR.until_at + _RECOVERY
    assert spell.limit_c == 14
    assert spell.worst_c is not None
    assert spell.worst_c > 18
    assert answer.figures.outside.too_warm_minutes == pytest.approx(spell.minutes)
    assert answer.figures.temperature is not None
    assert answer.figures.temperature.most_c == spell.worst_c


def test_the_open_door_is_a_spell_too_dry(service: Service) -> None:
    """One spell of hours, too dry; with the sensor's offset added the room is not too warm."""
    (spell,) = _climate(service, DOOR.room).figures.spells
    assert spell.what == "too_dry"
    assert DOOR.from_at < spell.from_at < DOOR.from_at + timedelta(hours=1)
    assert DOOR.until_at < spell.until_at < DOOR.until_at + timedelta(hours=2)
    assert spell.limit_humidity_pct == 85
    assert spell.worst_humidity_pct is not None
    assert spell.worst_humidity_pct < 77


def test_no_other_room_was_outside_its_limits(service: Service) -> None:
    """What is found is what was made to go wrong, and nothing else."""
    outside = {room for room in _ROOMS if _climate(service, room).figures.spell_count}
    assert outside == {COMPRESSOR.room, DOOR.room}


def test_the_stuck_sensor_is_in_doubt(service: Service) -> None:
    """One doubt, of the time it was stuck; its hours are counted as doubtful and noted."""
    answer = _climate(service, STUCK.room)
    (doubt,) = [doubt for doubt in answer.doubts if doubt.kind == "stuck"]
    assert doubt.sensor == _sensor(STUCK.room)
    assert _near(doubt.from_at, STUCK.from_at)
    assert _near(doubt.until_at, STUCK.until_at)
    stuck_h = (STUCK.until_at - STUCK.from_at) / timedelta(hours=1)
    assert answer.figures.doubtful_hours == pytest.approx(stuck_h, abs=1)
    assert any(doubt.sensor in note for note in answer.notes)


def test_no_other_sensor_is_stuck(service: Service) -> None:
    """Of all sensors only that one is in doubt for being stuck, and none for being saturated."""
    sensors = service.sensors(_AUDITOR, PageParams()).sensors
    assert len(sensors) == len(_ROOMS)
    doubts = [doubt for sensor in sensors for doubt in sensor.doubts if doubt.kind != "jump"]
    assert [(doubt.sensor, doubt.kind) for doubt in doubts] == [(_sensor(STUCK.room), "stuck")]


def test_the_gap_is_unobserved(service: Service) -> None:
    """Two days without a reading are given as such, and no figure holds for them."""
    answer = _climate(service, GAP.room)
    (gap,) = [span for span in answer.unobserved if span.hours > 1]
    assert (gap.why, gap.room) == ("no_reading", GAP.room)
    assert _near(gap.from_at, GAP.from_at)
    assert _near(gap.until_at, GAP.until_at)
    hours = (_UNTIL - _FROM) / timedelta(hours=1)
    assert answer.figures.observed_hours == pytest.approx(hours - gap.hours - 0.5)
    assert any("no temperature" in note for note in answer.notes)


def test_the_knocked_sensor_is_put_right_and_said_so(service: Service) -> None:
    """From the day it was knocked the declared offset is added; that it was told later is noted."""
    answer = _climate(service, KNOCKED.room)
    before, after = answer.sensors
    assert (before.offset_c, after.offset_c) == (0.0, -KNOCKED_C)
    assert before.until_at == after.from_at == KNOCKED.from_at
    assert (before.told_later, after.told_later) == (False, True)
    assert any("offset" in note and after.sensor in note for note in answer.notes)
    shown = [r for r in readings_of(DAIRY, SMALL) if r.sensor == after.sensor]
    for begin, end, offset_c in (
        (_FROM, KNOCKED.from_at, 0.0),
        (KNOCKED.from_at, _UNTIL, -KNOCKED_C),
    ):
        asked = ClimateParams(from_at=begin, until_at=end)
        figures = service.climate(_AUDITOR, KNOCKED.room, asked).figures
        raw = [r.temperature_c for r in shown if begin <= r.at < end and r.temperature_c]
        assert figures.temperature is not None
        # Half-hourly readings: their plain mean is nearly that by time.
        mean_c = sum(raw) / len(raw) + offset_c
        assert figures.temperature.mean_c == pytest.approx(mean_c, abs=0.01)


@pytest.fixture(scope="module")
def wedge(service: Service, small: Folded) -> ConditionsAnswer:
    """The conditions of the wedge that the demo shows."""
    return service.conditions(_AUDITOR, small.story.portion, ConditionsParams())


def test_the_wedges_conditions_reach_back_through_its_wheel(
    wedge: ConditionsAnswer, small: Folded
) -> None:
    """From hooping to the shop: the wheel's stays, then the wedge's, and what went wrong there."""
    (path,) = wedge.paths
    wheel, portion = path.lots
    assert kind_of_code(wheel) == "wheel"
    assert portion == small.story.portion
    rooms = [stay.room for stay in path.stays]
    assert rooms == ["QM-HOOP", "QM-R1", "QS-SOUTH", "QC-WHEELS", "QC-CUT", "QC-CHILL"]
    assert [stay.lot for stay in path.stays] == [wheel] * 4 + [portion] * 2
    assert all(stay.figures.temperature for stay in path.stays)
    assert [(s.what, s.room) for s in path.figures.spells] == [
        ("too_dry", DOOR.room),
        ("too_warm", COMPRESSOR.room),
    ]
    assert [span.why for span in path.unobserved] == ["away", "away"]
    assert path.figures.unobserved_hours == pytest.approx(sum(s.hours for s in path.unobserved))


def test_the_wedges_ages_are_those_of_the_trade(wedge: ConditionsAnswer) -> None:
    """Pierced five weeks after hooping, cut after nine weeks from the vat (common practice)."""
    (path,) = wedge.paths
    assert path.ages.counted_from_what == "make"
    assert path.ages.at_piercing_days == 36
    assert path.ages.at_cutting_days is not None
    assert 63 <= path.ages.at_cutting_days <= 70
    assert path.ages.at_sale_days is not None
    assert path.ages.at_sale_days > path.ages.at_cutting_days
    assert path.sixty_days is not None
    assert path.sixty_days.milk_treatment == "pasteurised"


def test_the_offset_told_later_is_noted_of_the_wedge(wedge: ConditionsAnswer) -> None:
    """The wheel lay under the knocked sensor: whoever reads the wedge's figures is told so."""
    sensor = _sensor(KNOCKED.room)
    assert any(sensor in note and "offset" in note for note in wedge.notes)
    (path,) = wedge.paths
    assert {span.sensor for span in path.sensors if span.told_later} == {sensor}


def test_the_command_shows_the_wedges_air(ran: Ran, small: Folded) -> None:
    """The conditions are on the screen, after the way back."""
    said = ran.process.stdout
    shown = said[said.index(f"$ rindline conditions {small.story.portion}") :]
    assert said.index("$ rindline origin") < said.index("$ rindline conditions")
    assert "mean kinetic" in shown
    assert "QS-SOUTH (South vault)" in shown
