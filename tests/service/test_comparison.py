"""Comparison: groups side by side, and what sets well judged wheels apart, told with care."""

from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import ComparedGroup, ComparisonAnswer, Difference
from rindline_schema.events import Correct, Tend
from rindline_schema.params import ComparisonParams
from rindline_schema.registers import Product
from rindline_server.calc.air import deficit_kpa
from rindline_server.service import ProblemError, Service
from rindline_server.service.wheels import comparison
from rindline_server.store.link import Link
from tests.service.callers import MANAGER
from tests.service.ripening import Ripening, on

_LIMITS = {"least_c": 8.0, "most_c": 11.0, "least_humidity_pct": 85.0, "most_humidity_pct": 95.0}


@pytest.fixture
def ripening(service: Service) -> Ripening:
    """Rooms WARM, at 12 °C and 80 %, and COOL, at 10 °C and 96 %, for sixty days."""
    ripening = Ripening(service, **_LIMITS)
    ripening.read("WARM", -1, 60, lambda _: 12.0, lambda _: 80.0)
    ripening.read("COOL", -1, 60, lambda _: 10.0, lambda _: 96.0)
    return ripening


def _ask(ripening: Ripening, **params: Any) -> ComparisonAnswer:
    ripening.tell()
    return ripening.service.comparison(MANAGER, ComparisonParams(**params))


def _group(answer: ComparisonAnswer, name: str) -> ComparedGroup:
    return next(group for group in answer.groups if group.group == name)


def _medians(group: ComparedGroup) -> dict[str, float]:
    return {one.measure: one.median for one in group.measures}


def _difference(answer: ComparisonAnswer, measure: str) -> Difference:
    return next(one for one in answer.differences if one.measure == measure)


def _judged_makes(
    ripening: Ripening, room: str, makes: int, score: int, *, wheels: int = 2, day: float = 0
) -> list[str]:
    """Makes in a room, a day apart, their wheels ironed at 42 days of age; wheels differ a bit."""
    codes: list[str] = []
    for n in range(makes):
        _, some = ripening.make(day + n / 4, wheels, room=room)
        for k, wheel in enumerate(some):
            ripening.iron(wheel, day + n / 4 + 42, score + (n + k) % 5)
        codes += some
    return codes


# --- measures -----------------------------------------------------------------------------------


def test_the_measures_of_a_wheel(ripening: Ripening) -> None:
    """Air, hours outside the limits, loss at a common age, age at piercing, holes, turnings: each
    by hand, from hooping to the ironing at 42 days."""
    make, (wheel,) = ripening.make(0, room="WARM")
    ripening.move(wheel, 14, "COOL")
    ripening.turn([wheel], [1, 2, 3, 10, 20, 30, 40, 50])
    ripening.pierce([wheel], 30, 100)
    ripening.pierce([wheel], 37, 60)
    ripening.weigh(wheel, {7: 9_500, 38: 8_500, 42: 8_450, 56: 8_000})
    ripening.iron(wheel, 42, 80)
    answer = _ask(ripening)
    group = _group(answer, make)
    assert (group.wheels, group.judged, group.median_score) == (1, 1, 80)
    dry, damp = deficit_kpa(12, 80), deficit_kpa(10, 96)
    at_six_weeks = 100 * (11_000 - 8_450) / 11_000
    assert _medians(group) == pytest.approx(
        {
            "mean_c": (14 * 12 + 28 * 10) / 42,
            "mean_humidity_pct": (14 * 80 + 28 * 96) / 42,
            "deficit_mean_kpa": (14 * dry + 28 * damp) / 42,
            "too_cold_hours_per_week": 0,
            "too_warm_hours_per_week": 14 * 24 / 6,
            "too_dry_hours_per_week": 14 * 24 / 6,
            "too_damp_hours_per_week": 28 * 24 / 6,
            "lost_at_6_weeks_pct": at_six_weeks,
            "age_at_piercing_days": 30,
            "holes": 160,
            "turnings_per_week": 7 / 6,
        },
        abs=1e-5,
    )
    assert answer.safety_note == SAFETY_NOTE
    assert answer.as_of == ripening.service.head()[0]


def test_what_comes_after_the_judging_does_not_count(ripening: Ripening) -> None:
    """A week of heat, piercing, weighing and turning after the last ironing change no measure; a
    second ironing makes them count."""
    make, (wheel,) = ripening.make(0)
    ripening.weigh(wheel, {30: 9_000})
    ripening.turn([wheel], [10, 20])
    ripening.iron(wheel, 42, 80)
    before = _medians(_group(_ask(ripening), make))
    ripening.read("WARM", 60 + 1 / 24, 70, lambda _: 25.0, lambda _: 70.0)
    ripening.turn([wheel], [55])
    ripening.pierce([wheel], 56, 100)
    ripening.weigh(wheel, {57: 8_000})
    assert _medians(_group(_ask(ripening), make)) == before
    ripening.iron(wheel, 70, 80)
    after = _medians(_group(_ask(ripening), make))
    assert after["mean_c"] > before["mean_c"]
    assert after["holes"] == 100
    assert after["turnings_per_week"] == 3 / 10


def test_air_hardly_observed_is_no_measure(ripening: Ripening) -> None:
    """A wheel of whose time less than half was observed has no figures of air, others it has."""
    make, (wheel,) = ripening.make(40)
    ripening.pierce([wheel], 50, 100)
    ripening.iron(wheel, 90, 80)
    assert list(_medians(_group(_ask(ripening), make))) == ["age_at_piercing_days", "holes"]


def test_a_corrected_piercing_counts_as_corrected(ripening: Ripening) -> None:
    """Holes are those of the events in force; a piercing without a number leaves them unknown."""
    make, (one, other) = ripening.make(0, 2)
    wrong = ripening.pierce([one], 30, 100)
    ripening.pierce([other], 30, None)
    ripening.tell()
    right = ripening.dairy.event(Tend, at=on(31), task="pierce", lots=[one], holes=90)
    ripening._add(Correct, 60, event=wrong.id, reason="counted again", replacement=right)
    (holes,) = [m for m in _group(_ask(ripening), make).measures if m.measure == "holes"]
    assert (holes.wheels, holes.median) == (1, 90)
    (age,) = [m for m in _ask(ripening).groups[0].measures if m.measure == "age_at_piercing_days"]
    assert (age.wheels, age.median) == (2, 30.5)


# --- groups -------------------------------------------------------------------------------------


def test_rooms_side_by_side(ripening: Ripening) -> None:
    """A wheel counts where it was longest until it was judged; a move told late puts it there.
    Medians and quartiles are numpy's."""
    cave = _judged_makes(ripening, "WARM", 2, 60)
    cool = _judged_makes(ripening, "COOL", 1, 70)
    answer = _ask(ripening, by="room")
    assert [(group.group, group.name, group.wheels) for group in answer.groups] == [
        ("WARM", "Room WARM", 4),
        ("COOL", "Room COOL", 2),
    ]
    assert _medians(_group(answer, "WARM"))["mean_c"] == 12
    assert _group(answer, "WARM").median_score == np.median([60, 61, 61, 62])
    for wheel in cave[:3]:
        ripening.move(wheel, 10, "COOL")
    answer = _ask(ripening, by="room")
    assert {group.group: group.wheels for group in answer.groups} == {"COOL": 5, "WARM": 1}
    (mean,) = [m for m in _group(answer, "COOL").measures if m.measure == "mean_c"]
    moved = [(12 * (10 - n / 4) + 10 * (32 + n / 4)) / 42 for n in (0, 0, 1)]
    values = [*moved, 10, 10]
    assert (mean.low_quartile, mean.median, mean.high_quartile) == pytest.approx(
        np.quantile(values, [0.25, 0.5, 0.75]), abs=1e-5
    )
    assert len(cool) == 2


def test_shelves_side_by_side(ripening: Ripening) -> None:
    """A shelf is one of a room: told at hooping or by a move; longest counts. Wheels without any
    are in no group, and counted in the notes."""
    _, (stayed,) = ripening.make(0, shelf="A1")
    _, (moved,) = ripening.make(0, shelf="A1")
    ripening.move(moved, 10, "WARM", shelf="B2")
    _, (cooled,) = ripening.make(0)
    ripening.move(cooled, 5, "COOL", shelf="A1")
    ripening.make(0)
    for wheel in (stayed, moved, cooled):
        ripening.iron(wheel, 42, 70)
    answer = _ask(ripening, by="shelf")
    assert [(group.group, group.name, group.wheels) for group in answer.groups] == [
        ("COOL/A1", "Room COOL, A1", 1),
        ("WARM/A1", "Room WARM, A1", 1),
        ("WARM/B2", "Room WARM, B2", 1),
    ]
    assert "1 wheels have no shelf told: they are in no group." in answer.notes


def test_only_what_is_asked_for(ripening: Ripening) -> None:
    """Product and days of hooping, both included; makes come newest first."""
    makes = [ripening.make(day)[0] for day in (0, 1, 2, 3)]
    days = {"made_from": on(1).date(), "made_to": on(2).date()}
    assert [g.group for g in _ask(ripening, product="BLUE", **days).groups] == makes[2:0:-1]
    assert [g.group for g in _ask(ripening).groups] == makes[::-1]
    assert _ask(ripening, product="OTHER").groups == []
    later = on(0).date() + timedelta(days=300)
    nothing = _ask(ripening, made_from=later)
    assert (nothing.wheels, nothing.groups, nothing.differences) == (0, [], [])


def test_more_than_can_be_compared(ripening: Ripening, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only the newest wheels and so many groups are given; the answer counts the rest."""
    for day in range(5):
        ripening.make(day, 2)
    monkeypatch.setattr(comparison, "MOST_WHEELS", 7)
    monkeypatch.setattr(comparison, "MOST_GROUPS", 3)
    answer = _ask(ripening, made_from=on(0.0).date())
    assert (answer.wheels, answer.wheels_left_out) == (7, 3)
    assert (len(answer.groups), answer.groups_left_out) == (3, 1)
    monkeypatch.setattr(comparison, "MOST_WHEELS", 10)
    assert _ask(ripening).wheels_left_out == 0


# --- well and badly -----------------------------------------------------------------------------


def test_thirds_by_score(ripening: Ripening) -> None:
    """The upper third against the lower by mean score; equal scores fall on the same side; where
    the thirds meet in one score, it belongs to neither. The split says so in words."""
    make, wheels = ripening.make(0, 9)
    for wheel, score in zip(wheels, (50, 60, 60, 60, 70, 75, 80, 85, 85), strict=True):
        ripening.iron(wheel, 42, score)
    answer = _ask(ripening)
    group = _group(answer, make)
    assert (group.judged, group.well, group.badly) == (9, 3, 4)
    assert "Well: 80.0 and more; badly: 60.0 and less." in answer.split
    for wheel in wheels[1:7]:
        ripening.iron(wheel, 43, 75)
    answer = _ask(ripening)
    group = _group(answer, make)
    assert (group.well, group.badly) == (2, 1)
    assert "Well: above 75.0; badly: below it." in answer.split


def test_sides_by_grade(ripening: Ripening) -> None:
    """Grades of the last ironing, not by upper and lower case; with one side named the other is
    every other grade; named on both sides it is refused."""
    make, wheels = ripening.make(0, 4)
    for wheel, grade in zip(wheels, ("First", "second", "third", None), strict=True):
        ripening.iron(wheel, 42, grade=grade)
    group = _group(_ask(ripening, well="first", badly="Third, FOURTH"), make)
    assert (group.judged, group.well, group.badly) == (3, 1, 1)
    group = _group(_ask(ripening, well="first"), make)
    assert (group.well, group.badly) == (1, 2)
    group = _group(_ask(ripening, badly="first"), make)
    assert (group.well, group.badly) == (2, 1)
    with pytest.raises(ProblemError) as caught:
        _ask(ripening, well="first,second", badly="Second")
    assert caught.value.problem.code == "unknown_parameter"
    assert caught.value.problem.faults[0].pointer == "badly"


def test_no_verdict_on_few(ripening: Ripening) -> None:
    """Five wheels on one side and four on the other are too few: no interval, and it says so."""
    _judged_makes(ripening, "COOL", 7, 80, wheels=1)
    _judged_makes(ripening, "WARM", 7, 40, wheels=1)
    answer = _ask(ripening)
    assert (answer.least_wheels, answer.least_makes) == (8, 4)
    assert {one.verdict for one in answer.differences} == {"too_few"}
    assert _difference(answer, "mean_c").shift is None
    assert _difference(answer, "mean_c").in_words.startswith("Too few to say: 5 wheels of 5 makes")


def test_many_wheels_of_few_makes_are_few(ripening: Ripening) -> None:
    """Sixty wheels a side of three makes are three makes: no verdict."""
    _judged_makes(ripening, "COOL", 3, 80, wheels=20)
    _judged_makes(ripening, "WARM", 3, 40, wheels=20)
    found = _difference(_ask(ripening, by="room", **_by_room(ripening)), "mean_c")
    assert found.verdict == "too_few"
    assert (found.well.makes, found.badly.makes) == (3, 3)
    assert found.well.median == 10


def _by_room(ripening: Ripening) -> dict[str, str]:
    """Grade each wheel told so far: first in COOL, second in WARM. Gives what to ask for."""
    for event in list(ripening.hooped):
        for wheel in event.wheels:
            grade = "first" if event.room == "COOL" else "second"
            day = (event.at - on(0)) / timedelta(days=1)
            ripening.iron(wheel.lot or "", day + 43, 70, grade=grade)
    return {"well": "first", "badly": "second"}


def test_few_makes_may_part_by_chance(ripening: Ripening) -> None:
    """Four makes a side that lie in different rooms: without overlap, yet among several measures
    so few makes part by chance too often. No interval leaves 0 out, and it says why."""
    _judged_makes(ripening, "COOL", 4, 80)
    _judged_makes(ripening, "WARM", 4, 40)
    found = _difference(_ask(ripening, **_by_room(ripening)), "mean_c")
    assert found.effect == -1
    assert (found.verdict, found.low_shift) == ("no_clear_difference", None)
    assert found.high_effect is not None
    assert found.high_effect >= 0
    assert "so few makes could part like this by chance" in found.in_words


def test_a_clear_difference_and_none(ripening: Ripening) -> None:
    """Twelve makes a side: those in the cool room were judged well. The air differs clearly, by
    2 °C; the age at piercing, drawn alike for both, does not. Intervals hold their shifts, and
    the notes say that a difference is no cause."""
    rng = np.random.default_rng(12)
    wheels = [
        *_judged_makes(ripening, "COOL", 12, 80),
        *_judged_makes(ripening, "WARM", 12, 40),
    ]
    for n in range(0, len(wheels), 2):
        ripening.pierce(wheels[n : n + 2], 20 + float(rng.uniform(0, 10)), 100)
    answer = _ask(ripening, **_by_room(ripening))
    warm = _difference(answer, "mean_c")
    assert (warm.verdict, warm.shift, warm.effect) == ("clear_difference", -2, -1)
    assert warm.low_shift is not None
    assert warm.high_shift is not None
    assert warm.low_shift <= -2 <= warm.high_shift < 0
    assert (warm.well.wheels, warm.well.makes, warm.well.median) == (24, 12, 10)
    assert warm.in_words.startswith("A clear difference: typically 2 °C less in wheels judged well")
    age = _difference(answer, "age_at_piercing_days")
    assert age.verdict == "no_clear_difference"
    assert age.low_shift is not None
    assert age.high_shift is not None
    assert age.low_shift < 0 < age.high_shift
    assert age.low_effect is not None
    assert age.high_effect is not None
    assert age.low_effect < 0 < age.high_effect
    holes = _difference(answer, "holes")
    assert (holes.verdict, holes.shift) == ("no_clear_difference", 0)
    assert holes.in_words.endswith("the same in wheels judged well and badly.")
    assert answer.notes[0].startswith("A difference is not a cause")


# --- what it costs ------------------------------------------------------------------------------


def test_the_number_of_statements_does_not_grow(
    ripening: Ripening, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Four wheels or sixty in the same room and days: the same number of statements."""
    asked: list[str] = []
    for name in ("rows", "row"):
        plain = getattr(Link, name)

        def noted(self: Link, statement: str, *rest: object, plain: Any = plain) -> object:
            asked.append(statement)
            return plain(self, statement, *rest)

        monkeypatch.setattr(Link, name, noted)
    ripening.declare(Product(code="TALL", name="Quillmere Tall", kind="wheel"))
    for wheels, product in ((2, "TALL"), (30, "BLUE")):
        for day in (0, 1):
            _, codes = ripening.make(day, wheels, product=product)
            ripening.pierce(codes, day + 30, 100)
            for wheel in codes:
                ripening.weigh(wheel, {day + 20: 9_000})
                ripening.iron(wheel, day + 42, 70)
    ripening.tell()
    ripening.service.stop(60)
    counts = []
    for product, wheels in (("TALL", 4), ("BLUE", 60)):
        asked.clear()
        assert _ask(ripening, by="shelf", product=product).wheels == wheels
        counts.append(len(asked))
    assert counts[0] == counts[1] < 20
