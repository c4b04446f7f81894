"""Weight loss: curves of wheels, the corridor of the past, what the air explains."""

import msgspec
import numpy as np
import pytest

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import WeightLossAnswer
from rindline_schema.registers import Product
from rindline_server.calc.air import deficit_kpa
from rindline_server.service import ProblemError, Service
from rindline_server.service.wheels import weight_loss
from rindline_server.store.link import Link
from tests.service.callers import MANAGER
from tests.service.ripening import Ripening, on

_WEEKS = (7, 14, 21, 28, 35, 42, 49, 56, 63)


def _losing(first_pct: float, a_week_pct: float) -> dict[float, int]:
    """Weighings of an 11 kg wheel that loses so much in the first week and in each after it."""
    return {
        day: round(11_000 * (1 - first_pct / 100 - a_week_pct / 100 * n))
        for n, day in enumerate(_WEEKS)
    }


def _after(weighings: dict[float, int], day: float) -> dict[float, int]:
    return {day + age: mass_g for age, mass_g in weighings.items()}


def _past(ripening: Ripening, wheels: int, day: float = 0) -> list[str]:
    """Wheels of which the nth loses n tenths of a percent more in the first week."""
    codes = []
    for n in range(wheels):
        _, (wheel,) = ripening.make(day)
        ripening.weigh(wheel, _after(_losing(12 + n / 10, 1.5), day))
        codes.append(wheel)
    return codes


@pytest.fixture
def ripening(service: Service) -> Ripening:
    return Ripening(service)


def _ask(ripening: Ripening, lot: str) -> WeightLossAnswer:
    ripening.tell()
    return ripening.service.weight_loss(MANAGER, lot)


def test_eleven_kilograms_fall_to_eight(ripening: Ripening) -> None:
    """11 kg of salted curd that weighs 8 kg at nine weeks has lost 27 % from hooping (common
    practice, no source)."""
    _, (wheel,) = ripening.make(0)
    ripening.weigh(wheel, {63: 8_000})
    answer = _ask(ripening, wheel)
    (curve,) = answer.wheels
    (point,) = curve.points
    assert (curve.lot, curve.hooped_at, curve.hooped_g) == (wheel, on(0), 11_000)
    assert (point.at, point.age_days, point.mass_g, point.lost_g) == (on(63), 63, 8_000, 3_000)
    assert round(point.lost_pct) == 27
    assert point.lost_since_g == 3_000
    assert (answer.lot, answer.kind, answer.product) == (wheel, "wheel", "BLUE")
    assert answer.safety_note == SAFETY_NOTE
    assert answer.as_of == ripening.service.head()[0]


def test_forty_wheels_lose_what_the_worked_drill_says(ripening: Ripening) -> None:
    """40 wheels of 11.0 kg, 440 kg of salted curd, weigh 322.4 kg at cutting: 117.6 kg or 26.7 %
    is loss (a constructed example)."""
    make, wheels = ripening.make(0, 40)
    for wheel in wheels:
        ripening.weigh(wheel, {63: 8_060})
    answer = _ask(ripening, make)
    lost = [curve.points[-1].lost_g for curve in answer.wheels]
    assert [curve.lot for curve in answer.wheels] == sorted(wheels)
    assert sum(lost) == 117_600
    assert {round(curve.points[-1].lost_pct, 1) for curve in answer.wheels} == {26.7}


def test_plugs_and_samples_are_no_loss(ripening: Ripening) -> None:
    """What the iron and the laboratory took before a weighing is added back; what they take at
    that very time or later is not."""
    _, (wheel,) = ripening.make(0)
    ripening.iron(wheel, 20, plug_g=30)
    ripening.sample(wheel, 25, 70)
    ripening.iron(wheel, 28, plug_g=15)
    ripening.weigh(wheel, {14: 9_600, 28: 9_000, 56: 8_500})
    points = _ask(ripening, wheel).wheels[0].points
    assert [point.lost_g for point in points] == [1_400, 1_900, 2_385]
    assert [point.lost_since_g for point in points] == [1_400, 500, 485]


def test_the_curve_ends_with_the_first_cut(ripening: Ripening) -> None:
    """A wheel is weighed when it is cut, and that still counts; what is weighed after is less for
    another reason."""
    _, (wheel,) = ripening.make(0)
    ripening.weigh(wheel, {14: 9_600, 63: 8_000, 64: 3_900})
    ripening.cut(wheel, 63, 4_000)
    points = _ask(ripening, wheel).wheels[0].points
    assert [(point.age_days, point.mass_g) for point in points] == [(14, 9_600), (63, 8_000)]


def test_a_weighing_told_late_takes_its_place(ripening: Ripening) -> None:
    """In whatever order they are told, weighings make the same curve."""
    _, (one, other) = ripening.make(0, 2)
    weighings = _losing(13, 1.5)
    ripening.weigh(one, weighings)
    ripening.weigh(other, dict(reversed(weighings.items())))
    assert _ask(ripening, one).wheels[0].points == _ask(ripening, other).wheels[0].points


# --- the corridor -------------------------------------------------------------------------------


def test_the_corridor_is_that_of_the_past(ripening: Ripening) -> None:
    """Quantiles over the wheels hooped before, at whole weeks, by numpy; of a make, the wheels
    that lie outside at any weighing are named, those within are not."""
    _past(ripening, 12)
    make, wheels = ripening.make(5, 3)
    for wheel, first_pct in zip(wheels, (12.6, 14.5, 11.0), strict=True):
        ripening.weigh(wheel, _after(_losing(first_pct, 1.5), 5))
    answer = _ask(ripening, make)
    assert [point.age_days for point in answer.corridor] == [0, *_WEEKS]
    for week, point in enumerate(answer.corridor[1:]):
        masses = [_losing(12 + n / 10, 1.5)[_WEEKS[week]] for n in range(12)]
        lost = [100 * (11_000 - mass_g) / 11_000 for mass_g in masses]
        found = [point.low_pct, point.median_pct, point.high_pct]
        assert found == pytest.approx(np.quantile(lost, [0.1, 0.5, 0.9]), abs=1e-5)
        assert point.wheels == 12
    by_lot = {curve.lot: curve for curve in answer.wheels}
    sides = [{point.corridor for point in by_lot[wheel].points} for wheel in wheels]
    assert sides == [{"within"}, {"above"}, {"below"}]
    assert answer.outside == sorted(wheels[1:])
    assert [by_lot[wheel].outside for wheel in wheels] == [False, True, True]
    assert "12 wheels of this product" in answer.notes[0]


def test_a_past_of_few_wheels_is_none(ripening: Ripening) -> None:
    """Nine wheels hooped before are no corridor and explain nothing; the answer says so."""
    _past(ripening, 9)
    _, (wheel,) = ripening.make(5)
    ripening.weigh(wheel, _after(_losing(13, 1.5), 5))
    answer = _ask(ripening, wheel)
    assert answer.corridor == []
    assert answer.explained is None
    assert answer.outside == []
    assert {point.corridor for point in answer.wheels[0].points} == {"unknown"}
    assert answer.least_wheels == 10
    assert answer.notes[0].startswith("No corridor: of 9 wheels of this product")


def test_what_comes_later_does_not_change_the_past(ripening: Ripening) -> None:
    """Wheels hooped after a wheel, or with it, or before it but of another product change nothing
    that is said of it."""
    _past(ripening, 11)
    _, (wheel,) = ripening.make(5)
    ripening.weigh(wheel, _after(_losing(13, 1.5), 5))
    before = _ask(ripening, wheel)
    assert before.corridor
    _past(ripening, 3, day=5)
    _past(ripening, 3, day=20)
    ripening.declare(Product(code="TALL", name="Quillmere Tall", kind="wheel"))
    _, others = ripening.make(1, 5, product="TALL")
    for other in others:
        ripening.weigh(other, _after(_losing(30, 1.5), 1))
    after = _ask(ripening, wheel)
    assert msgspec.structs.replace(after, as_of=before.as_of) == before


def test_only_the_newest_of_the_past_count(
    ripening: Ripening, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a long past the newest wheels make the corridor, so that its cost does not grow."""
    monkeypatch.setattr(weight_loss, "MOST_PAST_WHEELS", 10)
    for day in range(12):
        _, (wheel,) = ripening.make(day)
        ripening.weigh(wheel, {day + 7: 10_000 - 100 * day})
    _, (asked,) = ripening.make(30)
    week = _ask(ripening, asked).corridor[1]
    masses = [10_000 - 100 * day for day in range(2, 12)]
    assert week.wheels == 10
    assert week.median_pct == pytest.approx(100 * (11_000 - np.median(masses)) / 11_000, abs=1e-5)


# --- what the air explains ----------------------------------------------------------------------


def test_the_deficit_is_that_of_the_rooms_it_stood_in(ripening: Ripening) -> None:
    """Two weeks at 12 °C and 85 %, then two at 10 °C and 95 % in another room: the deficits of
    those airs times the hours, split where the wheel moved."""
    ripening.read("WARM", -1, 30, lambda _: 12.0, lambda _: 85.0)
    ripening.read("COOL", -1, 30, lambda _: 10.0, lambda _: 95.0)
    _, (wheel,) = ripening.make(0)
    ripening.move(wheel, 14, "COOL")
    ripening.weigh(wheel, {7: 9_500, 21: 9_000, 28: 8_900})
    dry, damp = deficit_kpa(12, 85), deficit_kpa(10, 95)
    points = _ask(ripening, wheel).wheels[0].points
    found = [point.vapour_pressure_deficit_kpa_h for point in points]
    assert found == pytest.approx([7 * 24 * dry, 7 * 24 * (dry + damp), 7 * 24 * damp], abs=1e-5)


def test_air_that_was_not_observed_is_not_made_up(ripening: Ripening) -> None:
    """With a sensor silent for a day in seven, that interval has no deficit and the answer says
    so; the interval before it has one."""
    for begin, end in ((0, 7), (7, 10), (11, 14)):
        ripening.read("WARM", begin + 1 / 24, end, lambda _: 12.0, lambda _: 85.0)
    _, (wheel,) = ripening.make(0)
    ripening.weigh(wheel, {7: 9_500, 14: 9_300})
    answer = _ask(ripening, wheel)
    first, second = answer.wheels[0].points
    assert first.vapour_pressure_deficit_kpa_h is not None
    assert second.vapour_pressure_deficit_kpa_h is None
    assert any(note.startswith("1 weighings have no deficit") for note in answer.notes)


def test_the_past_says_what_such_air_takes(ripening: Ripening) -> None:
    """Wheels of the past that all lose 1 % of their mass a week in the same air give a slope
    through them all; the expected loss of the next wheel is its mass times that, and the first
    week, in which whey drains, counts for neither."""
    ripening.read("WARM", 0, 45, lambda _: 12.0, lambda _: 85.0)
    masses = [9_000 * 0.99**week for week in range(5)]
    weighings = {7.0 * (n + 1): round(mass_g) for n, mass_g in enumerate(masses)}
    for _ in range(10):
        _, (wheel,) = ripening.make(0)
        ripening.weigh(wheel, weighings)
    _, (asked,) = ripening.make(5)
    ripening.weigh(asked, {12: 8_000, 19: 7_900})
    answer = _ask(ripening, asked)
    a_week = 7 * 24 * deficit_kpa(12, 85)
    assert answer.explained is not None
    assert (answer.explained.wheels, answer.explained.intervals) == (10, 40)
    assert answer.explained.g_per_kg_kpa_h == pytest.approx(10 / a_week, rel=0.01)
    low, high = answer.explained.low_g_per_kg_kpa_h, answer.explained.high_g_per_kg_kpa_h
    assert low <= answer.explained.g_per_kg_kpa_h <= high
    first, second = answer.wheels[0].points
    assert first.expected_lost_g is None
    assert second.expected_lost_g == pytest.approx(80, abs=1)
    assert second.lost_since_g == 100


# --- other lots, and what it costs --------------------------------------------------------------


def test_other_lots_have_a_note(ripening: Ripening) -> None:
    """A portion has no curve of its own, a make without wheels none yet; what was never told of is
    not there."""
    _, (wheel,) = ripening.make(0)
    portion = ripening.cut(wheel, 63, 4_000)
    answer = _ask(ripening, portion)
    assert (answer.wheels, answer.corridor, answer.kind) == ([], [], "portion")
    assert answer.notes == [
        "Weight loss is that of wheels, from hooping to the first cut; this is a portion."
    ]
    bare = _ask(ripening, ripening.bare_make(0, 5_000))
    assert bare.notes == ["The hooping of any wheel of this make has not been told."]
    with pytest.raises(ProblemError) as caught:
        _ask(ripening, ripening.dairy.code("wheel"))
    assert caught.value.problem.code == "not_found"


@pytest.fixture
def statements(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every statement that is asked from here on."""
    asked: list[str] = []
    for name in ("rows", "row"):
        plain = getattr(Link, name)

        def noted(self: Link, statement: str, *rest: object, plain: object = plain) -> object:
            asked.append(statement)
            return plain(self, statement, *rest)  # type: ignore[operator]

        monkeypatch.setattr(Link, name, noted)
    return asked


def test_the_number_of_statements_does_not_grow(ripening: Ripening, statements: list[str]) -> None:
    """A make of one wheel after a past of ten, and one of twenty after a past of forty, take the
    same number of statements."""
    ripening.read("WARM", 0, 10, lambda _: 12.0, lambda _: 85.0)
    _past(ripening, 10)
    small, _ = ripening.make(5)
    _past(ripening, 30, day=10)
    large, wheels = ripening.make(15, 20)
    for wheel in wheels:
        ripening.weigh(wheel, _after(_losing(13, 1.5), 15))
    ripening.tell()
    ripening.service.stop(60)
    counts: list[int] = []
    for make in (small, large):
        statements.clear()
        assert ripening.service.weight_loss(MANAGER, make).corridor
        counts.append(len(statements))
    assert counts[0] == counts[1] < 20
