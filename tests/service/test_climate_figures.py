"""The air of a room: its figures against a plain integration of the very same readings."""

import math

import pytest

from rindline_schema.answers import ClimateAnswer
from rindline_server.calc.air import Tally
from rindline_server.ledger.times import to_us
from rindline_server.service.air.hours import air_over, hours_over
from rindline_server.service.air.series import room_series
from rindline_server.store import Store
from tests.service.cellar import RULE, Cellar, after, course
from tests.service.plain_air import Hung, plain_air

_DAY = 24 * 60


@pytest.fixture
def cellar(store: Store) -> Cellar:
    return Cellar(store)


def _c(minute: int) -> float:
    return round(10 + 3 * math.sin(minute / 100) + 0.001 * (minute % 7), 3)


def _pct(minute: int) -> float:
    return round(88 + 6 * math.cos(minute / 170), 3)


def _agree(answer: ClimateAnswer, sensors: list[Hung], window: tuple[int, int]) -> None:
    """Temperature figures are those of the plain integration, to the decimals that are given."""
    plain = plain_air(sensors, *window)
    figures = answer.figures
    assert figures.observed_hours == pytest.approx(plain.observed_minutes / 60, abs=1e-6)
    assert figures.temperature is not None
    assert figures.temperature.mean_c == pytest.approx(plain.mean, abs=1e-6)
    assert figures.temperature.least_c == pytest.approx(plain.least, abs=1e-6)
    assert figures.temperature.most_c == pytest.approx(plain.most, abs=1e-6)
    assert figures.degree_hours_c_h == pytest.approx(plain.above_h, abs=2e-6)


@pytest.mark.parametrize("rolled", [False, True], ids=["due", "rolled_up"])
def test_figures_are_those_of_a_plain_integration(cellar: Cellar, rolled: bool) -> None:
    """Of five-minute readings over odd times; from readings and from hours rolled up alike."""
    cellar.room(least_c=8, most_c=12, least_humidity_pct=85, most_humidity_pct=93)
    cellar.sensor()
    minutes = range(3, 3 * _DAY, 5)
    cellar.read(course(minutes, _c, _pct))
    if rolled:
        cellar.roll(-_DAY, 4 * _DAY)
    else:
        cellar.mark_due(-_DAY, 4 * _DAY)
    answer = cellar.climate(617, 2 * _DAY + 41)
    window = (617, 2 * _DAY + 41)
    _agree(answer, [Hung({m: _c(m) for m in minutes})], window)
    damp = plain_air([Hung({m: _pct(m) for m in minutes})], *window, limits=[(0, 85, 93)])
    warm = plain_air([Hung({m: _c(m) for m in minutes})], *window, limits=[(0, 8, 12)])
    figures = answer.figures
    assert figures.humidity is not None
    assert figures.humidity.mean_pct == pytest.approx(damp.mean, abs=1e-6)
    assert figures.humidity.most_pct == pytest.approx(damp.most, abs=1e-6)
    outside = figures.outside
    assert outside.too_cold_minutes + outside.too_warm_minutes == pytest.approx(
        warm.outside_minutes, abs=1e-4
    )
    assert outside.too_dry_minutes + outside.too_damp_minutes == pytest.approx(
        damp.outside_minutes, abs=1e-4
    )
    assert outside.too_warm_minutes > 0 < outside.too_dry_minutes
    assert figures.readings == len([m for m in minutes if window[0] <= m < window[1]])
    assert figures.hours == pytest.approx((window[1] - window[0]) / 60, abs=1e-6)
    assert answer.rule == "trapezoid"
    assert answer.longest_gap_minutes == 90


def _near(one: Tally, other: Tally) -> None:
    """Two tallies are the same, their areas to a part in a thousand million."""
    for name, value, expected in zip(Tally._fields, one, other, strict=True):
        if isinstance(expected, float):
            assert value == pytest.approx(expected, rel=1e-9), name
        elif name not in {"spells", "unseen"}:
            assert value == expected, name


def test_hours_rolled_up_equal_the_readings(cellar: Cellar) -> None:
    """air_over of rolled-up hours is that of the readings, and is merged from hours_over."""
    cellar.room(most_c=12)
    cellar.sensor()
    cellar.read(course([*range(0, 700, 7), *range(900, 2000, 3)], _c, _pct))
    ends = (to_us(after(33)), to_us(after(1777)))
    cellar.mark_due(-_DAY, 2 * _DAY)
    with cellar.store.reading() as snap:
        assert not snap.air_hours("CAVE", (0, 10**7))
        raw = air_over(snap, "CAVE", *ends, RULE)
    cellar.roll(-_DAY, 2 * _DAY)
    with cellar.store.reading() as snap:
        assert len(snap.air_hours("CAVE", (0, 10**7))) > 20
        _near(air_over(snap, "CAVE", *ends, RULE), raw)
        pieces = hours_over(snap, "CAVE", *ends, RULE)
    assert sum(piece.tally.readings for piece in pieces) == raw.readings
    assert pieces[0].from_us == ends[0]
    assert pieces[-1].until_us == ends[1]


def test_two_sensors_count_by_their_mean(cellar: Cellar) -> None:
    """While both are observed the air is their mean; while one is, it alone."""
    cellar.room()
    cellar.sensor("S-1")
    cellar.sensor("S-2", offset_c=0.5)
    one, other = range(0, 600, 10), range(203, 1000, 7)
    cellar.read(course(one, _c), "S-1")
    cellar.read(course(other, lambda m: _c(m) + 2), "S-2")
    cellar.mark_due(0, _DAY)
    hung = [
        Hung({m: _c(m) for m in one}),
        Hung({m: round(_c(m) + 2, 3) for m in other}, offset=0.5),
    ]
    _agree(cellar.climate(100, 900), hung, (100, 900))
    assert [span.sensor for span in cellar.climate(100, 900).sensors] == ["S-1", "S-2"]


def test_a_sensor_moved_between_rooms(cellar: Cellar) -> None:
    """Each room has the readings of the sensor's time there; none bridges the move."""
    cellar.room("CAVE")
    cellar.room("STORE")
    cellar.sensor(room="CAVE")
    cellar.sensor(room="STORE", minutes=500)
    cellar.sensor(room="CAVE", minutes=800)
    minutes = range(0, 1200, 15)
    # It is far warmer in the store: a line across the move would show.
    shown = {m: _c(m) + (20 if 500 <= m < 800 else 0) for m in minutes}
    cellar.read(course(minutes, shown.__getitem__))
    for room in ("CAVE", "STORE"):
        cellar.mark_due(0, _DAY, room)
    times = {
        "CAVE": [
            Hung({m: v for m, v in shown.items() if m < 500}),
            Hung({m: v for m, v in shown.items() if m >= 800}),
        ],
        "STORE": [Hung({m: v for m, v in shown.items() if 500 <= m < 800})],
    }
    for room, hung in times.items():
        answer = cellar.climate(30, 1190, room)
        _agree(answer, hung, (30, 1190))
        assert answer.figures.temperature is not None
        assert (answer.figures.temperature.least_c > 20) == (room == "STORE")
    assert [(one.from_at, one.until_at) for one in cellar.climate(30, 1190).sensors] == [
        (after(30), after(500)),
        (after(800), after(1190)),
    ]
    assert cellar.climate(500, 800).figures.observed_hours == 0


def test_another_offset_bends_the_line_where_it_begins(cellar: Cellar) -> None:
    """Between two readings the old offset counts up to its last moment and the new one after."""
    cellar.room()
    cellar.sensor()
    cellar.sensor(minutes=95, offset_c=1.0, offset_humidity_pct=-3.0)
    minutes = range(0, 300, 30)
    cellar.read(course(minutes, _c, _pct))
    cellar.mark_due(0, _DAY)
    raw = {m: _c(m) for m in minutes}
    hung = [Hung(raw, until_minute=95), Hung(raw, from_minute=95, offset=1.0)]
    answer = cellar.climate(0, 270)
    _agree(answer, hung, (0, 270))
    assert answer.figures.readings == 9
    assert answer.figures.unobserved_hours == 0


def test_an_offset_that_begins_with_a_reading(cellar: Cellar) -> None:
    """The reading of that very moment has the new offset, the line towards it the old one."""
    cellar.room()
    cellar.sensor()
    cellar.sensor(minutes=90, offset_c=1.0)
    minutes = range(0, 300, 30)
    cellar.read(course(minutes, _c))
    cellar.mark_due(0, _DAY)
    raw = {m: _c(m) for m in minutes}
    hung = [Hung(raw, until_minute=90), Hung(raw, from_minute=90, offset=1.0)]
    answer = cellar.climate(0, 270)
    _agree(answer, hung, (0, 270))
    assert answer.figures.readings == 9


def test_a_change_of_offset_gives_each_side_one_sample(cellar: Cellar) -> None:
    """Where an offset begins both series have what was shown then, and no time stands twice."""
    cellar.room()
    cellar.sensor()
    cellar.sensor(minutes=90, offset_c=1.0, offset_humidity_pct=5.0)
    cellar.read([(60, 10.0, 80.0), (90, 11.0, None), (120, 12.0, 90.0)])
    with cellar.store.reading() as snap:
        series, times = room_series(
            snap, "CAVE", to_us(after(0)), to_us(after(200)), RULE.longest_gap_us
        )
    assert series == [
        [(to_us(after(60)), 10.0, 80.0), (to_us(after(90)), 11.0, 85.0)],
        [(to_us(after(90)), 12.0, 90.0), (to_us(after(120)), 13.0, 95.0)],
    ]
    assert times == [to_us(after(minute)) for minute in (60, 90, 120)]


def test_humidity_with_its_offset_stays_humidity(cellar: Cellar) -> None:
    """An offset makes no air wetter than 100 %, nor drier than 0, also where it begins."""
    cellar.room()
    cellar.sensor(offset_humidity_pct=3.0)
    cellar.sensor(minutes=75, offset_humidity_pct=20.0)
    cellar.read([(0, None, 98.5), (60, None, 98.5), (120, None, 98.5)])
    cellar.mark_due(0, 120)
    humidity = cellar.climate(0, 120).figures.humidity
    assert humidity is not None
    assert (humidity.least_pct, humidity.most_pct, humidity.mean_pct) == (100, 100, 100)


def test_a_gap_is_bridged_up_to_the_setting_and_not_beyond(cellar: Cellar) -> None:
    """Readings 90 minutes apart are joined; 91 minutes apart the time between is unobserved."""
    cellar.room()
    cellar.sensor()
    cellar.read([(0, 10.0, None), (90, 12.0, None), (181, 10.0, None), (200, 10.0, None)])
    cellar.mark_due(0, _DAY)
    answer = cellar.climate(0, 200)
    assert [(one.why, one.from_at, one.until_at) for one in answer.unobserved] == [
        ("no_reading", after(90), after(181))
    ]
    assert answer.figures.unobserved_hours == pytest.approx(91 / 60, abs=1e-6)
    assert answer.figures.temperature is not None
    # 90 minutes at 11 degrees in the mean and 19 at 10.
    assert answer.figures.temperature.mean_c == pytest.approx((90 * 11 + 19 * 10) / 109, abs=1e-6)


def test_an_offset_changed_within_a_gap_bridges_nothing(cellar: Cellar) -> None:
    """Two readings too far apart stay so, however near to each an offset changes."""
    cellar.room()
    cellar.sensor()
    cellar.sensor(minutes=60, offset_c=1.0)
    cellar.read([(0, 10.0, None), (120, 12.0, None)])
    cellar.mark_due(0, _DAY)
    assert cellar.climate(0, 120).figures.observed_hours == 0


def test_limits_count_as_declared_at_the_time(cellar: Cellar) -> None:
    """Limits changed in the middle of an hour: minutes outside go by those of each moment."""
    cellar.room(most_c=12)
    cellar.room(minutes=200, most_c=9, least_c=8)
    cellar.room(minutes=455, most_c=30)
    cellar.sensor()
    minutes = range(0, 700, 5)
    cellar.read(course(minutes, _c))
    cellar.mark_due(0, _DAY)
    answer = cellar.climate(10, 690)
    limits = [(0, -99.0, 12.0), (200, 8.0, 9.0), (455, -99.0, 30.0)]
    plain = plain_air([Hung({m: _c(m) for m in minutes})], 10, 690, limits=limits)
    outside = answer.figures.outside
    assert plain.outside_minutes > 0
    assert outside.too_warm_minutes + outside.too_cold_minutes == pytest.approx(
        plain.outside_minutes, abs=1e-4
    )
    assert [(one.from_at, one.until_at, one.least_c, one.most_c) for one in answer.limits] == [
        (after(10), after(200), None, 12),
        (after(200), after(455), 8, 9),
        (after(455), after(690), None, 30),
    ]
    assert {one.limit_c for one in answer.figures.spells if one.what == "too_warm"} == {12, 9}
    assert all(one.until_at <= after(455) for one in answer.figures.spells)


def test_another_base_of_degree_hours(cellar: Cellar) -> None:
    """With another base all is computed from the readings, whatever is rolled up."""
    cellar.room()
    cellar.sensor()
    minutes = range(0, 20 * _DAY, 45)
    cellar.read(course(minutes, _c))
    cellar.roll(0, 21 * _DAY)
    answer = cellar.climate(100, 19 * _DAY, base_c=10.5)
    usual = cellar.climate(100, 19 * _DAY)
    hung = [Hung({m: _c(m) for m in range(0, 2 * _DAY, 45)})]
    assert answer.figures.degree_hours_base_c == 10.5
    assert usual.figures.degree_hours_base_c == 8.0
    assert answer.figures.temperature == usual.figures.temperature
    day = cellar.climate(100, _DAY, base_c=10.5)
    plain = plain_air(hung, 100, _DAY, base=10.5)
    assert day.figures.degree_hours_c_h == pytest.approx(plain.above_h, abs=2e-6)
    assert cellar.climate(100, _DAY, base_c=8.0) == cellar.climate(100, _DAY)


def test_a_due_hour_is_never_answered_from_what_is_kept(cellar: Cellar) -> None:
    """Readings told after the roll-up count at once, though the hours were not rolled up anew."""
    cellar.room()
    cellar.sensor()
    cellar.read(course(range(0, 600, 10), _c))
    cellar.roll(0, _DAY)
    cellar.read(course(range(605, 900, 10), lambda _: 25.0))
    cellar.mark_due(540, 960)
    answer = cellar.climate(0, 890)
    assert answer.figures.temperature is not None
    assert answer.figures.temperature.most_c == 25.0
    shown = {m: _c(m) for m in range(0, 600, 10)} | dict.fromkeys(range(605, 900, 10), 25.0)
    _agree(answer, [Hung(shown)], (0, 890))


def test_hours_that_are_not_due_are_answered_from_what_is_kept(cellar: Cellar) -> None:
    """Figures come from the hours rolled up: readings nobody marked as due are not looked at."""
    cellar.room()
    cellar.sensor()
    cellar.read(course(range(0, 600, 10), _c))
    cellar.roll(0, _DAY)
    before = cellar.climate(60, 540).figures
    cellar.read(course(range(5, 600, 10), lambda _: 25.0))
    assert cellar.climate(60, 540).figures == before
    cellar.mark_due(60, 540)
    assert cellar.climate(60, 540).figures != before
