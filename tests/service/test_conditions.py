"""Conditions of a lot: the true path, its air against a naive integration, and what is said."""

import math
from collections.abc import Iterator

import pytest

from rindline_schema.events import Move
from rindline_schema.registers import Sensor
from rindline_server.store import Store
from tests.service.vaults import HOOPED_H, Course, Vaults, after, naive_mean, opened


@pytest.fixture
def vaults(store: Store) -> Iterator[Vaults]:
    with opened(store) as vaults:
        yield vaults


def _wave(mean: float, swing: float, period_h: float) -> Course:
    return lambda hours: mean + swing * math.sin(hours / period_h)


_ROOMS: dict[str, tuple[Course, Course]] = {
    "CAVE": (_wave(20, 1, 5), _wave(85, 4, 7)),
    "NORTH": (_wave(12, 0.5, 11), _wave(91, 3, 13)),
    "SOUTH": (_wave(14, 0.7, 9), _wave(88, 2, 17)),
    "EAST": (_wave(10, 0.3, 3), _wave(93, 1, 19)),
    "WEST": (_wave(8, 0.9, 15), _wave(95, 2, 23)),
    "DEEP": (_wave(4, 0.4, 8), _wave(97, 1, 29)),
}
_LAST_H = 40 * 24
_MOVES = [(150.0, "NORTH"), (303.5, "SOUTH"), (411.25, "EAST"), (640.0, "WEST"), (777.7, "DEEP")]


def _measured(vaults: Vaults) -> None:
    """Rooms read every hour and rolled up."""
    vaults.rooms(NORTH="North vault", SOUTH="South vault", EAST="East", WEST="West", DEEP="Deep")
    for room, (c, pct) in _ROOMS.items():
        vaults.read(room, 0, _LAST_H, c, pct)
    vaults.roll()
    vaults.now = after(_LAST_H)


def _spent(moves: list[tuple[float, str]], quantity: int) -> list[tuple[Course, float, float]]:
    begins = [float(HOOPED_H), *(hours for hours, _ in moves)]
    ends = [*begins[1:], float(_LAST_H)]
    rooms = ["CAVE", *(room for _, room in moves)]
    return [
        (_ROOMS[room][quantity], begin, end)
        for room, begin, end in zip(rooms, begins, ends, strict=True)
    ]


def test_a_move_told_three_weeks_late_takes_its_place_on_the_path(vaults: Vaults) -> None:
    """A wheel moved five times, the third move told last, three weeks after it happened: until
    then the path leads past that room, from then on all figures are those of the true path."""
    _measured(vaults)
    (wheel,) = vaults.hooped()
    moves = [vaults.move(wheel, hours, room) for hours, room in _MOVES]
    vaults.tell(moves[0], moves[1], moves[3], moves[4])
    untold = vaults.path(wheel)
    assert (vaults.now - moves[2].at).days >= 21
    vaults.tell(moves[2])
    path = vaults.path(wheel)
    assert [stay.room for stay in path.stays] == ["CAVE", *(room for _, room in _MOVES)]
    for of_path, told in ((untold, [*_MOVES[:2], *_MOVES[3:]]), (path, _MOVES)):
        assert of_path.figures.temperature is not None
        assert of_path.figures.humidity is not None
        mean_c = naive_mean(_spent(told, 0), 60)
        mean_pct = naive_mean(_spent(told, 1), 60)
        assert of_path.figures.temperature.mean_c == pytest.approx(mean_c, abs=1e-6)
        assert of_path.figures.humidity.mean_pct == pytest.approx(mean_pct, abs=1e-6)
    for stay, spent in zip(path.stays, _spent(_MOVES, 0), strict=True):
        assert stay.figures.temperature is not None
        assert stay.figures.temperature.mean_c == pytest.approx(naive_mean([spent], 60), abs=1e-6)
    assert [stay.still_there for stay in path.stays] == [False] * 5 + [True]
    assert path.stays[0].from_at == path.from_at == after(HOOPED_H)
    assert path.until_at == path.stays[-1].until_at == vaults.now
    assert path.figures.unobserved_hours == 0
    assert path.unobserved == []
    assert untold.figures != path.figures


def test_stays_add_up_to_the_path(vaults: Vaults) -> None:
    """Hours, degree-hours and readings of the stays add up to those of the path; the extremes
    of the path are those of its stays."""
    _measured(vaults)
    (wheel,) = vaults.hooped()
    vaults.tell(*(vaults.move(wheel, hours, room) for hours, room in _MOVES))
    path = vaults.path(wheel)
    figures = [stay.figures for stay in path.stays]
    assert path.figures.hours == pytest.approx(_LAST_H - HOOPED_H)
    assert sum(one.hours for one in figures) == pytest.approx(path.figures.hours, abs=1e-5)
    assert sum(one.degree_hours_c_h for one in figures) == pytest.approx(
        path.figures.degree_hours_c_h, abs=1e-4
    )
    assert sum(one.readings for one in figures) == path.figures.readings == _LAST_H - HOOPED_H
    temperatures = [one.temperature for one in figures if one.temperature is not None]
    assert path.figures.temperature is not None
    assert path.figures.temperature.least_c == min(one.least_c for one in temperatures)
    assert path.figures.temperature.most_c == max(one.most_c for one in temperatures)


def test_an_offset_declared_afterwards_changes_the_figures_and_says_so(vaults: Vaults) -> None:
    """A calibration told after the readings, for a time before them: half a degree more in the
    figures, and a note that names the sensor and the offset."""
    (wheel,) = vaults.hooped()
    vaults.now = after(days=30)
    vaults.read("CAVE", 0, 30 * 24, lambda _: 12.0, lambda _: 90.0)
    before = vaults.ask(wheel)
    vaults.now = after(days=31)
    vaults.declare(
        Sensor(code="S-CAVE", name="Sensor CAVE", room="CAVE", offset_c=0.5), at=after(days=-1)
    )
    answer = vaults.ask(wheel)
    for asked, mean_c in ((before, 12.0), (answer, 12.5)):
        assert asked.paths[0].figures.temperature is not None
        assert asked.paths[0].figures.temperature.mean_c == pytest.approx(mean_c)
    assert not [note for note in before.notes if "offset" in note]
    (note,) = [note for note in answer.notes if "offset" in note]
    assert "S-CAVE" in note
    assert "+0.5" in note
    (span,) = answer.paths[0].sensors
    assert (span.offset_c, span.told_later) == (0.5, True)


def test_a_stay_shorter_than_the_reading_interval_is_interpolated(vaults: Vaults) -> None:
    """Three minutes in a room read every half hour: no reading of its own, yet observed, at what
    lies on the line between the readings around it."""
    vaults.rooms(NORTH="North vault")
    vaults.now = after(48)
    vaults.read("CAVE", 0, 48, lambda _: 20.0, every_minutes=30)
    vaults.read("NORTH", 0, 48, lambda hours: hours / 4, every_minutes=30)
    (wheel,) = vaults.hooped()
    vaults.tell(vaults.move(wheel, 20.15, "NORTH"), vaults.move(wheel, 20.2, "CAVE"))
    stay = vaults.path(wheel).stays[1]
    assert stay.figures.hours == pytest.approx(0.05, abs=1e-6)
    assert (stay.figures.observed_hours, stay.figures.readings) == (stay.figures.hours, 0)
    assert stay.figures.temperature is not None
    # The line runs from 20.15 / 4 to 20.2 / 4; its mean over the stay is that of its ends.
    assert stay.figures.temperature.mean_c == pytest.approx((20.15 + 20.2) / 8, abs=1e-6)


def test_stays_that_share_an_hour_share_it_out(vaults: Vaults) -> None:
    """A wheel cut at odd minutes in the room it and its portion stay in: the hour of the cut is
    divided between the two stays, each of whose figures are those of a naive integration."""
    (wheel,) = vaults.hooped()
    (portion,) = vaults.cut(wheel, 100.4, vaults.dairy.piece(700))
    vaults.now = after(200.5)
    c, pct = _ROOMS["CAVE"]
    vaults.read("CAVE", 0, 200.5, c, pct, every_minutes=10)
    vaults.roll()
    path = vaults.path(portion)
    spans = [(HOOPED_H, 100.4), (100.4, 200.5)]
    assert path.figures.unobserved_hours == 0
    assert sum(stay.figures.readings for stay in path.stays) == path.figures.readings
    for stay, (from_h, until_h) in zip(path.stays, spans, strict=True):
        assert stay.figures.temperature is not None
        assert stay.figures.humidity is not None
        assert stay.figures.observed_hours == pytest.approx(until_h - from_h, abs=1e-6)
        for course, mean in (
            (c, stay.figures.temperature.mean_c),
            (pct, stay.figures.humidity.mean_pct),
        ):
            naive = naive_mean([(course, from_h, until_h)], 10)
            assert mean == pytest.approx(naive, abs=1e-6)


def test_temperature_and_humidity_shown_at_different_times(vaults: Vaults) -> None:
    """A logger shows one at the full hour and the other at half past: a stay that begins and ends
    between the two is observed in both from its first minute to its last."""
    vaults.rooms(NORTH="North vault")
    (wheel,) = vaults.hooped()
    vaults.now = after(100)
    vaults.read("NORTH", 0, 100, lambda hours: hours / 10)
    vaults.read_at_half_past("NORTH", 0, 100, lambda hours: 80 + hours / 10)
    vaults.tell(vaults.move(wheel, 20.2, "NORTH"), vaults.move(wheel, 50.8, "CAVE"))
    stay = vaults.path(wheel).stays[1]
    assert stay.figures.humidity_observed_hours == stay.figures.observed_hours
    assert stay.figures.observed_hours == stay.figures.hours == pytest.approx(30.6, abs=1e-6)
    assert stay.figures.temperature is not None
    assert stay.figures.humidity is not None
    # Both are straight lines: their means are their values in the middle, at 35.5 h.
    assert stay.figures.temperature.mean_c == pytest.approx(3.55, abs=1e-6)
    assert stay.figures.humidity.mean_pct == pytest.approx(83.55, abs=1e-6)


def test_without_any_reading_all_is_unobserved(vaults: Vaults) -> None:
    """No logger: the stay is told with its hours, nothing is said of its air, and that is said."""
    (wheel,) = vaults.hooped()
    vaults.now = after(HOOPED_H, days=21)
    answer = vaults.ask(wheel)
    (path,) = answer.paths
    assert path.figures.hours == path.figures.unobserved_hours == 21 * 24
    assert path.figures.observed_hours == 0
    assert path.figures.temperature is None
    assert path.figures.mean_kinetic_temperature_c is None
    (gap,) = path.unobserved
    assert (gap.why, gap.room, gap.hours) == ("no_reading", "CAVE", 21 * 24)
    assert answer.in_words == "Ripened 3 weeks, in the Cave; the air was not measured."
    assert answer.notes


def test_a_gap_between_readings_is_named_and_not_filled(vaults: Vaults) -> None:
    """The logger was dead from hour 30 to hour 40: ten hours unobserved, the mean of the rest."""
    (wheel,) = vaults.hooped()
    vaults.now = after(50)
    vaults.read("CAVE", 0, 30, lambda _: 10.0)
    vaults.read("CAVE", 40, 50, lambda _: 14.0)
    path = vaults.path(wheel)
    (gap,) = path.unobserved
    assert (gap.why, gap.from_at, gap.until_at) == ("no_reading", after(30), after(40))
    assert path.figures.unobserved_hours == gap.hours == 10
    assert path.figures.temperature is not None
    assert path.figures.temperature.mean_c == pytest.approx((24 * 10 + 10 * 14) / 34, abs=1e-6)


def test_at_the_moment_of_hooping_there_is_no_time_yet(vaults: Vaults) -> None:
    """Asked as the wheel leaves the hoop: a path of no hours, and a sentence all the same."""
    (wheel,) = vaults.hooped()
    vaults.now = after(HOOPED_H)
    answer = vaults.ask(wheel)
    (path,) = answer.paths
    assert (path.from_at, path.until_at) == (after(HOOPED_H), after(HOOPED_H))
    assert (path.stays, path.unobserved, path.figures.hours) == ([], [], 0)
    assert answer.in_words == "Ripened less than a day; the air was not measured."


def test_the_sentence_for_a_shop(vaults: Vaults) -> None:
    """Weeks, the room it was in longest by its name, and the means, as a shop would say it."""
    vaults.rooms(NORTH="North vault")
    (wheel,) = vaults.hooped()
    vaults.tell(vaults.move(wheel, 6 * 24, "NORTH"))
    vaults.now = after(HOOPED_H, days=80)
    vaults.read("CAVE", 0, 6 * 24, lambda _: 19.0, lambda _: 84.0)
    vaults.read("NORTH", 6 * 24, 80 * 24 + HOOPED_H, lambda _: 11.5, lambda _: 91.5)
    answer = vaults.ask(wheel)
    assert answer.in_words == (
        "Ripened 11 weeks, mostly in the North vault, at 12.0 °C and 91 % humidity on average."
    )
    assert answer.paths[0].stays[1].room_name == "North vault"
    assert (answer.product, answer.product_name) == ("BLUE", "Quillmere Blue")


def test_the_sentence_says_how_much_was_measured(vaults: Vaults) -> None:
    """Readings for half the time only: the sentence says so."""
    (wheel,) = vaults.hooped()
    vaults.now = after(HOOPED_H, days=20)
    vaults.read("CAVE", HOOPED_H, HOOPED_H + 240, lambda _: 12.0)
    assert vaults.ask(wheel).in_words == (
        "Ripened 2 weeks, in the Cave, at 12.0 °C on average, measured for 50 % of the time."
    )


def test_a_corrected_move_counts_as_corrected(vaults: Vaults) -> None:
    """A move told into the wrong room and corrected: the path knows the right one alone."""
    vaults.rooms(NORTH="North vault", SOUTH="South vault")
    (wheel,) = vaults.hooped()
    wrong = vaults.move(wheel, 100, "NORTH")
    vaults.tell(wrong)
    assert [stay.room for stay in vaults.path(wheel).stays] == ["CAVE", "NORTH"]
    right: Move = vaults.move(wheel, 120, "SOUTH")
    vaults.correct(wrong, right)
    path = vaults.path(wheel)
    assert [(stay.room, stay.from_at) for stay in path.stays] == [
        ("CAVE", after(HOOPED_H)),
        ("SOUTH", after(120)),
    ]


def test_the_series_and_the_base_that_are_asked_for(vaults: Vaults) -> None:
    """Hour by hour, day by day, or none; and degree-hours above another base than the server's:
    at 12 degrees for 24 h, 96 above 8 and 48 above 10."""
    (wheel,) = vaults.hooped()
    vaults.now = after(HOOPED_H + 24)
    vaults.read("CAVE", 0, HOOPED_H + 24, lambda _: 12.0, lambda _: 90.0)
    plain, hours, days = (vaults.path(wheel, series=step) for step in ("none", "hours", "days"))
    assert (len(plain.series), len(hours.series), len(days.series)) == (0, 24, 2)
    assert {hour.mean_c for hour in hours.series} == {12.0}
    assert sum(day.hours for day in days.series) == 24
    assert plain.figures == hours.figures == days.figures
    assert plain.figures.degree_hours_c_h == pytest.approx(96)
    warmer = vaults.path(wheel, base_c=10.0)
    assert warmer.figures.degree_hours_c_h == pytest.approx(48)
    assert warmer.figures.degree_hours_base_c == 10.0
