"""Whose conditions: portions through their wheel, blends by input, what is pending or sold."""

from collections.abc import Iterator
from typing import Any

import pytest

from rindline_schema.answers import ConditionsAnswer
from rindline_schema.events import (
    Arrive,
    Blend,
    Dispatch,
    Document,
    Input,
    Line,
    NewLot,
    Tend,
)
from rindline_server.service import ProblemError
from rindline_server.store import Store
from tests.service.callers import AUDITOR
from tests.service.vaults import HOOPED_H, Vaults, after, opened


@pytest.fixture
def vaults(store: Store) -> Iterator[Vaults]:
    with opened(store) as vaults:
        yield vaults


def _blend(vaults: Vaults, hours: float, *inputs: tuple[str, int]) -> str:
    lot = vaults.dairy.code("blend")
    vaults.tell(
        vaults.event(
            Blend,
            hours,
            room="CAVE",
            inputs=[Input(lot=code, mass_g=mass_g) for code, mass_g in inputs],
            outputs=[NewLot(product="CRUMBLE", lot=lot, mass_g=sum(g for _, g in inputs))],
        )
    )
    return lot


def _places(answer: ConditionsAnswer) -> list[list[tuple[str, str | None]]]:
    return [[(stay.lot, stay.room) for stay in path.stays] for path in answer.paths]


# --- portions and blends --------------------------------------------------------------------------


def test_a_portion_reaches_back_through_its_wheel(vaults: Vaults) -> None:
    """A portion of a portion: the wheel's stays up to the first cut, the portion's up to the
    second, then its own; what the wheel did after the cut is not on the path."""
    vaults.rooms(NORTH="North vault")
    dairy = vaults.dairy
    (wheel,) = vaults.hooped()
    vaults.tell(vaults.move(wheel, 100, "NORTH"))
    half, trim = vaults.cut(wheel, 1000, dairy.piece(3_000, n=4), dairy.piece(500, "trim"))
    vaults.tell(vaults.move(wheel, 1100, "CAVE"), vaults.move(half, 1010, "NORTH"))
    (wedge,) = vaults.cut(half, 1200, dairy.piece(700), room="NORTH")
    vaults.now = after(1300)
    vaults.read("CAVE", 0, 1300, lambda _: 20.0)
    vaults.read("NORTH", 0, 1300, lambda _: 10.0)
    answer = vaults.ask(wedge)
    (path,) = answer.paths
    assert path.lots == [wheel, half, wedge]
    assert [(s.lot, s.room, s.from_at, s.until_at) for s in path.stays] == [
        (wheel, "CAVE", after(HOOPED_H), after(100)),
        (wheel, "NORTH", after(100), after(1000)),
        (half, "CAVE", after(1000), after(1010)),
        (half, "NORTH", after(1010), after(1200)),
        (wedge, "NORTH", after(1200), after(1300)),
    ]
    assert path.figures.hours == path.figures.observed_hours == 1300 - HOOPED_H
    assert path.figures.temperature is not None
    warm_h = 100 - HOOPED_H + 10
    cool_h = 1300 - HOOPED_H - warm_h
    assert path.figures.temperature.mean_c == pytest.approx(
        # Half an hour's line leads from 20 to 10 nowhere: each room has its own air.
        (20 * warm_h + 10 * cool_h) / (warm_h + cool_h),
        abs=1e-6,
    )
    assert [h.lot for h in path.handlings if h.kind == "cut"] == [wheel, half]
    assert path.ages.at_cutting_days == 41
    assert [s.sensor for s in path.sensors] == ["S-CAVE", "S-NORTH", "S-CAVE", "S-NORTH"]
    assert vaults.path(trim).lots == [wheel, trim]


def test_a_blend_has_a_path_for_each_input(vaults: Vaults) -> None:
    """Crumble of the trim of two wheels: one path each, that of the larger input first; and a
    blend with that crumble in it has a path for each wheel behind it."""
    dairy = vaults.dairy
    one, other, third = vaults.hooped(3)
    vaults.rooms(NORTH="North vault")
    vaults.tell(vaults.move(other, 100, "NORTH"))
    (trim_1,) = vaults.cut(one, 900, dairy.piece(1_000, "trim"))
    (trim_2,) = vaults.cut(other, 950, dairy.piece(1_000, "trim"))
    (trim_3,) = vaults.cut(third, 960, dairy.piece(1_000, "trim"))
    crumble = _blend(vaults, 1000, (trim_1, 300), (trim_2, 900))
    vaults.now = after(1100)
    answer = vaults.ask(crumble)
    assert [path.lots for path in answer.paths] == [
        [other, trim_2, crumble],
        [one, trim_1, crumble],
    ]
    assert _places(answer)[0] == [
        (other, "CAVE"),
        (other, "NORTH"),
        (trim_2, "CAVE"),
        (crumble, "CAVE"),
    ]
    assert answer.in_words.startswith("The largest of 2 inputs: ripened 6 weeks, mostly in the ")
    assert answer.paths_left_out == 0
    mixed = _blend(vaults, 1050, (crumble, 500), (trim_3, 800))
    paths = vaults.ask(mixed).paths
    assert [path.lots for path in paths] == [
        [third, trim_3, mixed],
        [other, trim_2, crumble, mixed],
        [one, trim_1, crumble, mixed],
    ]
    assert {path.figures.hours for path in paths} == {1100.0 - HOOPED_H}


def test_of_very_many_inputs_a_hundred_paths_are_given(vaults: Vaults) -> None:
    """Trim of one wheel 12 times over, blended four times all with all: 12 to the 4th paths."""
    dairy = vaults.dairy
    (wheel,) = vaults.hooped()
    trims = vaults.cut(wheel, 900, *(dairy.piece(500, "trim") for _ in range(12)))
    for step in range(3):
        blended = [dairy.code("blend") for _ in range(12)]
        vaults.tell(
            vaults.event(
                Blend,
                910 + step,
                inputs=[Input(lot=lot, mass_g=400 - step) for lot in trims],
                outputs=[
                    NewLot(product="CRUMBLE", lot=lot, mass_g=400 - step - 1) for lot in blended
                ],
            )
        )
        trims = blended
    last = _blend(vaults, 920, *((lot, 100) for lot in trims))
    answer = vaults.ask(last)
    assert len(answer.paths) == 100
    assert answer.paths_left_out == 12**4 - 100
    assert {len(path.lots) for path in answer.paths} == {6}
    vaults.now = after(925)
    vaults.read("CAVE", 0, 925, lambda _: 12.0)
    hourly = vaults.ask(last, series="hours")
    # 909 hours in a room on each path: the 23rd path passes 20,000.
    assert [len(path.series) for path in hourly.paths] == [909] * 23 + [0] * 77
    assert any("with their series" in note for note in hourly.notes)


# --- what is not there ----------------------------------------------------------------------------


def test_what_was_never_hooped_has_no_path(vaults: Vaults) -> None:
    """Milk and a make have none, and are told why; an unknown lot is not found."""
    (wheel,) = vaults.hooped()
    origin = vaults.service.origin(AUDITOR, wheel)
    milk, make = origin.milk[0].lot, origin.makes[0].lot
    for lot, why in ((milk, "is not cheese"), (make, "is a make")):
        answer = vaults.ask(lot)
        assert (answer.paths, answer.paths_left_out) == ([], 0)
        assert why in answer.notes[0]
        assert answer.in_words == "Nothing is told of how it ripened."
    with pytest.raises(ProblemError) as caught:
        vaults.ask(vaults.dairy.code("portion"))
    assert caught.value.problem.code == "not_found"


def test_a_wheel_whose_hooping_is_not_told_begins_with_what_is(vaults: Vaults) -> None:
    """A portion of a wheel known only from being moved and cut: the path begins with the move,
    and a note says what is missing."""
    wheel = vaults.dairy.code("wheel")
    vaults.tell(vaults.move(wheel, 500, "CAVE"))
    (portion,) = vaults.cut(wheel, 1000, vaults.dairy.piece(400))
    answer = vaults.ask(portion)
    (path,) = answer.paths
    assert (path.from_at, path.make) == (after(500), None)
    assert [(stay.lot, stay.room) for stay in path.stays] == [(wheel, "CAVE"), (portion, "CAVE")]
    assert path.ages.counted_from_what == "first told"
    assert any(wheel in note and "not told yet" in note for note in answer.notes)
    orphan = vaults.dairy.code("portion")
    vaults.tell(vaults.event(Tend, 1001, task="brush", lots=[orphan]))
    unknown = vaults.ask(orphan)
    assert unknown.paths == []
    assert "not told yet" in unknown.notes[0]


def test_a_wheel_whose_make_is_not_told_counts_from_hooping(vaults: Vaults) -> None:
    """A wheel hooped from a make that is only a code so far: ages count from hooping."""
    hoop = vaults.dairy.hoop(vaults.dairy.code("make"), [8_000])
    vaults.tell(hoop)
    wheel = hoop.wheels[0].lot or ""
    answer = vaults.ask(wheel)
    (path,) = answer.paths
    assert (path.ages.counted_from, path.ages.counted_from_what) == (hoop.at, "hooping")
    assert any("ages count from hooping" in note for note in answer.notes)


def test_a_stay_without_a_room_is_told_as_such(vaults: Vaults) -> None:
    """Cut where no room was named, moved two hours later: two hours of no room, unobserved."""
    (wheel,) = vaults.hooped()
    (wedge,) = vaults.cut(wheel, 100, vaults.dairy.piece(700), room=None)
    vaults.tell(vaults.move(wedge, 102, "CAVE"))
    vaults.now = after(110)
    vaults.read("CAVE", 0, 110, lambda _: 9.0)
    answer = vaults.ask(wedge)
    (path,) = answer.paths
    assert answer.notes[0] == "For 2.0 hours it was in no room as far as is told."
    assert [(stay.room, stay.figures.hours) for stay in path.stays] == [
        ("CAVE", 94.0),
        (None, 2.0),
        ("CAVE", 8.0),
    ]
    (gap,) = path.unobserved
    assert (gap.why, gap.room, gap.hours) == ("no_room", None, 2.0)
    assert path.figures.observed_hours == 102.0


# --- on the way and sold --------------------------------------------------------------------------


def _transfer(
    vaults: Vaults, lot: str, leaves_h: float, comes_h: float | None, **line: Any
) -> None:
    document = Document(number="T-1")
    lines = [Line(lot=lot, **line)]
    vaults.tell(vaults.event(Dispatch, leaves_h, lines=lines, document=document, to_site="QR"))
    if comes_h is not None:
        arrived = vaults.event(
            Arrive, comes_h, lines=[Line(lot=lot)], document=document, site="QR", room="STORE"
        )
        vaults.tell(arrived)


def test_between_two_sites_it_is_away(vaults: Vaults) -> None:
    """Five hours on the road: away, unobserved; then the other site's room."""
    (wheel,) = vaults.hooped()
    _transfer(vaults, wheel, 100, 105)
    vaults.now = after(200)
    vaults.read("CAVE", 0, 200, lambda _: 12.0)
    vaults.read("STORE", 0, 200, lambda _: 3.0)
    answer = vaults.ask(wheel)
    (path,) = answer.paths
    assert [(stay.site, stay.room) for stay in path.stays] == [("QM", "CAVE"), ("QR", "STORE")]
    assert answer.notes[0] == "For 5.0 hours it was away, between two sites or with a partner."
    (gap,) = path.unobserved
    assert (gap.why, gap.from_at, gap.until_at) == ("away", after(100), after(105))
    assert path.figures.hours == 200 - HOOPED_H
    assert path.figures.unobserved_hours == 5


def test_what_has_not_arrived_is_away_until_now(vaults: Vaults) -> None:
    """Sent to the other site and not yet there: the path goes on, away."""
    (wheel,) = vaults.hooped()
    _transfer(vaults, wheel, 100, None)
    vaults.now = after(130)
    path = vaults.path(wheel)
    assert (path.unobserved[-1].why, path.unobserved[-1].hours) == ("away", 30.0)
    assert path.until_at == vaults.now
    assert not path.stays[-1].still_there


def test_pieces_at_two_sites_count_each_hour_once(vaults: Vaults) -> None:
    """Six of eight pieces went to the other site, which is where most of the lot lies now: the
    path follows them, over the road; the stay of the other two is given beside, and a note says
    so."""
    (wheel,) = vaults.hooped()
    (portion,) = vaults.cut(wheel, 100, vaults.dairy.piece(4_000, n=8))
    _transfer(vaults, portion, 150, 160, count=6, mass_g=3_000)
    vaults.now = after(200)
    vaults.read("CAVE", 0, 200, lambda _: 12.0)
    vaults.read("STORE", 0, 200, lambda _: 4.0)
    answer = vaults.ask(portion)
    (path,) = answer.paths
    assert path.figures.hours == 200 - HOOPED_H
    assert path.figures.temperature is not None
    followed_h, there_h = 150 - HOOPED_H, 40
    assert path.figures.observed_hours == followed_h + there_h
    assert [(gap.why, gap.hours) for gap in path.unobserved] == [("away", 10.0)]
    assert path.figures.temperature.mean_c == pytest.approx(
        (12 * followed_h + 4 * there_h) / (followed_h + there_h), abs=1e-6
    )
    assert [(s.site, s.from_at, s.until_at, s.still_there) for s in path.stays] == [
        ("QM", after(HOOPED_H), after(100), False),
        ("QM", after(100), after(150), False),
        ("QM", after(150), after(200), True),
        ("QR", after(160), after(200), True),
    ]
    assert {stay.figures.unobserved_hours for stay in path.stays} == {0.0}
    assert any("several sites" in note for note in answer.notes)


def test_a_sold_lot_ends_with_the_sale(vaults: Vaults) -> None:
    """All of a portion sold: its path ends there, and what was sold of it is a handling."""
    (wheel,) = vaults.hooped()
    (portion,) = vaults.cut(wheel, 1000, vaults.dairy.piece(4_000, n=8))
    first = vaults.sell(portion, 1500, count=4, mass_g=2_000)
    vaults.sell(portion, 1600)
    path = vaults.path(portion)
    assert path.until_at == after(1600)
    assert not path.stays[-1].still_there
    sales = [(h.at, h.age_days) for h in path.handlings if h.kind == "sale"]
    assert sales == [(after(1500), 62.5), (after(1600), pytest.approx(1600 / 24, abs=1e-6))]
    assert path.handlings[-2].event_id == str(first.id)
    assert (path.ages.at_sale_days, path.ages.now_days) == (62, 91)
    of_wheel = vaults.path(wheel)
    assert of_wheel.ages.at_sale_days is None
    assert of_wheel.until_at == vaults.now


def test_what_came_back_was_away_with_the_customer(vaults: Vaults) -> None:
    """Sold whole, and returned four days later: the path goes on, away in between; the sale
    stays the first one."""
    (wheel,) = vaults.hooped()
    (portion,) = vaults.cut(wheel, 1000, vaults.dairy.piece(700))
    vaults.sell(portion, 1100)
    back = vaults.dairy.returned(portion, by="SHOP-A", mass_g=700, count=1)
    vaults.tell(vaults.event(Arrive, 1196, lines=back.lines, returned_by="SHOP-A", room="CAVE"))
    path = vaults.path(portion)
    away = [(gap.from_at, gap.until_at, gap.hours) for gap in path.unobserved if gap.why == "away"]
    assert away == [(after(1100), after(1196), 96.0)]
    assert path.until_at == vaults.now
    assert path.stays[-1].still_there
    assert path.ages.at_sale_days == 45
