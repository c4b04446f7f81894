"""The demo's air as it is made: every room, the same every time, with what went wrong in it."""

import hashlib
from collections import Counter
from collections.abc import Iterable
from datetime import datetime, timedelta
from itertools import pairwise

import msgspec
import pytest

from rindline_schema import events as ev
from rindline_schema.answers import Reading
from rindline_schema.codes import kind_of_code
from rindline_schema.registers import Room, Sensor
from rindline_server.demo import SMALL, WHOLE, Scale
from rindline_server.demo.air import count_readings, readings_of
from rindline_server.demo.air_incidents import (
    COMPRESSOR,
    DOOR,
    GAP,
    KNOCKED,
    KNOCKED_C,
    STUCK,
    Incident,
)
from rindline_server.demo.dates import LAST_DAY, at
from rindline_server.demo.registers import CUTTING, DAIRY, ENTRIES, STORE
from rindline_server.ledger.times import to_us
from tests.demo.conftest import Folded

_ROOMS = {entry.code: entry for entry in ENTRIES if isinstance(entry, Room)}
_SENSORS = {entry.code: entry.room for entry in ENTRIES if isinstance(entry, Sensor)}
_INCIDENTS = (COMPRESSOR, DOOR, STUCK, GAP, KNOCKED)
_SITES = (DAIRY, STORE, CUTTING)

# After it is put right the vault takes some hours to be as cold as before.
_RECOVERY = timedelta(hours=6)

Shown = dict[str, list[Reading]]


def _by_room(scale: Scale) -> Shown:
    shown: Shown = {}
    for site in _SITES:
        for reading in readings_of(site, scale):
            shown.setdefault(_SENSORS[reading.sensor], []).append(reading)
    return shown


@pytest.fixture(scope="module")
def whole_air() -> Shown:
    """What the sensors of the whole demo showed, by room."""
    return _by_room(WHOLE)


@pytest.fixture(scope="module")
def small_air() -> Shown:
    """The same of the small one."""
    return _by_room(SMALL)


@pytest.fixture(params=["whole", "small"])
def air(request: pytest.FixtureRequest) -> Shown:
    """Either."""
    shown: Shown = request.getfixturevalue(f"{request.param}_air")
    return shown


def _digest(readings: Iterable[Reading]) -> str:
    return hashlib.sha256(msgspec.json.encode(list(readings))).hexdigest()


def _during(incident: Incident, readings: list[Reading]) -> list[Reading]:
    return [r for r in readings if incident.from_at <= r.at < incident.until_at]


def _temperatures(readings: Iterable[Reading]) -> list[float]:
    return [r.temperature_c for r in readings if r.temperature_c is not None]


def _humidities(readings: Iterable[Reading]) -> list[float]:
    return [r.humidity_pct for r in readings if r.humidity_pct is not None]


def _spared(room: str, moment: datetime) -> bool:
    """Tell whether nothing is amiss in a room at a time, nor was a short while before."""
    return not any(
        incident.room == room and incident.from_at <= moment < incident.until_at + _RECOVERY
        for incident in (COMPRESSOR, DOOR)
    )


def _error_c(room: str, moment: datetime) -> float:
    """Give how much too many degrees the sensor of a room shows."""
    return KNOCKED_C if room == KNOCKED.room and moment >= KNOCKED.from_at else 0.0


def test_every_room_has_a_sensor_and_air() -> None:
    """Each room of the registers holds one sensor, and that sensor shows something."""
    assert Counter(_SENSORS.values()) == Counter(_ROOMS.keys())
    assert set(_by_room(SMALL)) == set(_ROOMS)


def test_the_whole_air_is_twelve_weeks_of_five_minutes(whole_air: Shown) -> None:
    """One reading each five minutes of twelve weeks in each of the eleven rooms; one gap."""
    each = 12 * 7 * 24 * 12
    counts = {room: len(readings) for room, readings in whole_air.items()}
    assert counts == dict.fromkeys(_ROOMS, each) | {GAP.room: each - 2 * 24 * 12}
    assert sum(counts.values()) == count_readings(WHOLE)
    for room, readings in whole_air.items():
        assert (readings[0].at, readings[-1].at) == (at(0, 0), at(LAST_DAY, 23, 55)), room
        steps = {b.at - a.at for a, b in pairwise(readings)}
        gap = {GAP.until_at - GAP.from_at + timedelta(minutes=5)} if room == GAP.room else set()
        assert steps == {timedelta(minutes=5)} | gap


def test_the_small_air_spans_the_same_weeks(small_air: Shown) -> None:
    """So that its wheels have air all their life, but in a sixth of the readings."""
    assert sum(map(len, small_air.values())) == count_readings(SMALL)
    assert count_readings(SMALL) * 6 == count_readings(WHOLE)
    assert {r[-1].at for r in small_air.values()} == {at(LAST_DAY, 23, 30)}


def test_the_air_is_the_same_every_time() -> None:
    """A second making gives the same bytes; another scale gives others."""
    assert _digest(readings_of(STORE, SMALL)) == _digest(readings_of(STORE, SMALL))
    same_times = {r.at: r for r in readings_of(STORE, WHOLE) if r.sensor == "S-NORTH"}
    small = [r for r in readings_of(STORE, SMALL) if r.sensor == "S-NORTH"]
    assert [same_times[r.at] for r in small] != small


def test_every_reading_may_be_told(air: Shown) -> None:
    """Each has both values in the steps of its sensor, and is read back from JSON as it was."""
    for readings in air.values():
        decoded = msgspec.json.decode(msgspec.json.encode(readings), type=list[Reading])
        assert decoded == readings
        assert all(round(c, 1) == c for c in _temperatures(readings))
        assert all(pct * 2 % 1 == 0 for pct in _humidities(readings))


def test_rooms_keep_their_limits_but_for_the_incidents(air: Shown) -> None:
    """Ripening rooms 10 to 14 °C and 85 to 95 %, the hooping room 18 to 22 °C, and so on.

    What the knocked sensor shows is taken as it is once its offset is added.
    """
    for code, room in _ROOMS.items():
        calm = [r for r in air[code] if _spared(code, r.at)]
        shown = [(r.temperature_c or 0) - _error_c(code, r.at) for r in calm]
        if room.least_c is not None and room.most_c is not None:
            assert room.least_c <= min(shown) <= max(shown) <= room.most_c, code
        if room.least_humidity_pct is not None and room.most_humidity_pct is not None:
            least, most = min(_humidities(calm)), max(_humidities(calm))
            assert room.least_humidity_pct <= least <= most <= room.most_humidity_pct, code


def test_the_compressor_fails_for_about_a_day_and_the_vault_recovers(air: Shown) -> None:
    """The vault is warmer than its limit for about a day, then as cold as before."""
    readings = air[COMPRESSOR.room]
    most_c = _ROOMS[COMPRESSOR.room].most_c
    assert most_c is not None
    warm = [r.at for r in readings if (r.temperature_c or 0) > most_c]
    assert timedelta(hours=20) < max(warm) - min(warm) < timedelta(hours=32)
    assert COMPRESSOR.from_at < min(warm)
    assert max(warm) < COMPRESSOR.until_at + _RECOVERY
    assert max(_temperatures(readings)) > most_c + 4


def test_the_open_door_lets_the_damp_out_for_hours(air: Shown) -> None:
    """The room is far too dry while the door is open, not warmer than allowed, and damp later."""
    readings = air[DOOR.room]
    least_pct = _ROOMS[DOOR.room].least_humidity_pct
    assert least_pct is not None
    dry = [r.at for r in readings if (r.humidity_pct or 0) < least_pct]
    assert timedelta(hours=4) < max(dry) - min(dry) < timedelta(hours=7)
    assert DOOR.from_at < min(dry)
    assert max(dry) < DOOR.until_at + _RECOVERY
    assert min(_humidities(readings)) < least_pct - 8


def test_the_stuck_sensor_shows_one_pair_of_values_for_days(air: Shown) -> None:
    """One pair of values while it is stuck; no other sensor repeats itself for half a day."""
    stuck = _during(STUCK, air[STUCK.room])
    assert len({(r.temperature_c, r.humidity_pct) for r in stuck}) == 1
    assert STUCK.until_at - STUCK.from_at > timedelta(days=3)
    assert _longest_run(air[STUCK.room]) >= stuck[-1].at - stuck[0].at
    for room, readings in air.items():
        assert room == STUCK.room or _longest_run(readings) < timedelta(hours=12), room


def _longest_run(readings: list[Reading]) -> timedelta:
    """Give the longest time for which temperature or humidity stayed the very same."""
    longest = timedelta(0)
    for field in ("temperature_c", "humidity_pct"):
        begun = readings[0]
        for before, reading in pairwise(readings):
            changed = getattr(reading, field) != getattr(before, field)
            if changed or reading.at - before.at > timedelta(hours=1):
                begun = reading
            longest = max(longest, reading.at - begun.at)
    return longest


def test_wheels_lie_where_something_goes_wrong(told: Folded) -> None:
    """Each incident is in a room in which wheels lie all the time it lasts (or begins, if long)."""
    stays = [
        stay
        for lot, book in told.world.books.items()
        if kind_of_code(lot) == "wheel"
        for stay in book.record.stays
    ]
    for incident in _INCIDENTS:
        until = min(incident.until_at, incident.from_at + timedelta(days=7))
        lying = [
            stay
            for stay in stays
            if stay.room == incident.room
            and stay.from_us <= to_us(incident.from_at)
            and (stay.until_us is None or stay.until_us >= to_us(until))
        ]
        assert len(lying) >= 10, incident


def test_the_shown_wedge_lay_through_the_failure_and_under_the_knocked_sensor(told: Folded) -> None:
    """So that the air the demo shows at its end has something to say."""
    (cut,) = [
        event
        for event in told.story.events
        if isinstance(event, ev.Cut) and told.story.portion in {p.lot for p in event.pieces}
    ]
    stays = told.world.books[cut.lot].record.stays
    for incident in (COMPRESSOR, DOOR, KNOCKED):
        assert any(
            stay.room == incident.room
            and stay.from_us < to_us(incident.until_at)
            and (stay.until_us or 0) > to_us(incident.from_at)
            for stay in stays
        ), incident


def test_the_calibration_is_told_of_the_sensor_that_was_knocked(told: Folded) -> None:
    """Its offset takes away what the sensor shows too much, from the day it was knocked on."""
    sheet = told.story.calibration
    assert isinstance(sheet.entry, Sensor)
    assert _SENSORS[sheet.entry.code] == sheet.entry.room == KNOCKED.room
    assert sheet.entry.offset_c == -KNOCKED_C
    assert sheet.at == KNOCKED.from_at
    assert sheet.id not in {event.id for event in told.story.events}
