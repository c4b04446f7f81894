"""Corrections: the record as if it had been told rightly, and what stands in their way."""

import pytest

from rindline_schema import events as ev
from rindline_schema.gs1 import sscc
from tests.histories.telling import record_of
from tests.ledger.scene import Scene, code, event_id

_CASE = sscc(3, "952012", 1)


def _correct(scene: Scene, wrong: ev.Event, right: ev.Fact | None = None) -> ev.Correct:
    return scene.build(ev.Correct, 300, event=wrong.id, reason="mistyped", replacement=right)


def test_a_replacement_counts_as_if_it_had_been_told() -> None:
    """8 kg mistyped as 6 kg: after the correction the wheel weighs 8 kg since that weighing."""
    scene = Scene()
    wheel = scene.wheel(mass_g=10_000)
    wrong = scene.tell(ev.Weigh, 60, lot=wheel, mass_g=6_000)
    right = scene.build(ev.Weigh, 60, lot=wheel, mass_g=8_000)
    scene.say(_correct(scene, wrong, right))
    assert scene.held_g(wheel) == {"QM": 8_000}
    assert {entry.event for entry in scene.world.book(wheel).entries} >= {str(right.id)}
    assert scene.world.recorded[str(wrong.id)] == wrong
    assert str(wrong.id) in scene.world.voids


def test_without_a_replacement_it_never_happened() -> None:
    """The wheel was not weighed at all."""
    scene = Scene()
    wheel = scene.wheel()
    before = scene.record(wheel)
    wrong = scene.tell(ev.Weigh, 60, lot=wheel, mass_g=6_000)
    scene.say(_correct(scene, wrong))
    assert scene.record(wheel) == before


def test_an_event_is_corrected_once_and_its_replacement_again() -> None:
    """A second correction of the same event is told which stands; the replacement may be wrong
    as well, and is corrected in its turn."""
    scene = Scene()
    wheel = scene.wheel()
    wrong = scene.tell(ev.Weigh, 60, lot=wheel, mass_g=6_000)
    second = scene.build(ev.Weigh, 60, lot=wheel, mass_g=7_000)
    first_correction = _correct(scene, wrong, second)
    scene.say(first_correction)
    problem = scene.refusal_of(_correct(scene, wrong))
    assert problem.code == "already_corrected"
    assert problem.event_ids == [str(first_correction.id)]
    third = scene.build(ev.Weigh, 60, lot=wheel, mass_g=8_000)
    scene.say(_correct(scene, second, third))
    assert scene.held_g(wheel) == {"QM": 8_000}


def test_corrections_of_corrections_in_any_order() -> None:
    """Event, its correction, the correction of the replacement: six orders, one record."""
    records = set()
    for order in ((0, 1, 2), (0, 2, 1), (1, 0, 2), (1, 2, 0), (2, 0, 1), (2, 1, 0)):
        scene = Scene()
        wheel = scene.wheel()
        first, second, third = (
            scene.build(ev.Weigh, 60, lot=wheel, mass_g=mass_g) for mass_g in (7_000, 9_000, 8_000)
        )
        told: list[ev.Event] = [
            first,
            _correct(scene, first, second),
            _correct(scene, second, third),
        ]
        for i in order:
            scene.say(told[i])
        assert scene.held_g(wheel) == {"QM": 8_000}
        records.add(record_of(scene.world))
    assert len(records) == 1


def test_a_correction_is_not_corrected() -> None:
    """Its replacement is, or a new event told; a correction called wrong before it came is
    refused when it comes."""
    scene = Scene()
    wheel = scene.wheel()
    wrong = scene.tell(ev.Weigh, 60, lot=wheel, mass_g=6_000)
    correction = _correct(scene, wrong)
    scene.say(correction)
    assert scene.refusal_of(_correct(scene, correction)).code == "wrong_kind"
    scene = Scene()
    wheel = scene.wheel()
    wrong = scene.tell(ev.Weigh, 60, lot=wheel, mass_g=6_000)
    correction = _correct(scene, wrong)
    scene.say(_correct(scene, correction))
    assert scene.refusal_of(correction).code == "already_corrected"


def test_an_event_corrected_before_it_came_changes_nothing() -> None:
    """The correction is told first; the mistaken event then is kept, and nothing of it counts:
    it may even say what would be refused otherwise."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000)
    line, document = ev.Line(lot=portion, mass_g=5_000), ev.Document(number="D1")
    wrong = scene.build(ev.Dispatch, 60, lines=[line], document=document, to="SHOP-1")
    release = scene.build(ev.Release, 60, lots=[portion], reason="tested")
    scene.say(_correct(scene, wrong))
    scene.say(_correct(scene, release))
    before = scene.record(portion)
    assert scene.say(wrong).warnings == ()
    assert scene.say(release).warnings == ()
    assert scene.record(portion) == before
    assert scene.world.recorded[str(wrong.id)] == wrong


def test_what_rests_on_a_lot_stands_in_the_way() -> None:
    """Unmaking a wheel that was cut and turned: the answer lists those events, not the hold."""
    scene = Scene()
    make = scene.vat()
    wheels = [ev.NewWheel(mass_g=10_000, lot=code("wheel"))]
    said = {"make": make, "product": "BLUE", "room": "QM-WARM"}
    hoop = scene.tell(ev.Hoop, 30, wheels=wheels, **said)
    turn = scene.tell(ev.Tend, 50, task="turn", lots=[code("wheel")])
    cut = scene.tell(ev.Cut, 60, lot=code("wheel"), pieces=[scene.piece(9_000)])
    scene.tell(ev.Hold, 70, lots=[code("wheel")], reason="torn")
    problem = scene.refusal_of(_correct(scene, hoop))
    assert (problem.code, problem.lot) == ("correction_in_the_way", code("wheel"))
    assert set(problem.event_ids) == {str(turn.id), str(cut.id)}
    # A replacement may make the same wheel, but not too light for what was cut of it ...
    light = [ev.NewWheel(mass_g=5_000, lot=code("wheel"))]
    problem = scene.refusal_of(
        _correct(scene, hoop, scene.build(ev.Hoop, 30, wheels=light, **said))
    )
    assert problem.code == "correction_in_the_way"
    assert problem.event_ids == [str(cut.id)]
    # ... nor younger than what was done with it ...
    problem = scene.refusal_of(
        _correct(scene, hoop, scene.build(ev.Hoop, 55, wheels=wheels, **said))
    )
    assert problem.event_ids == [str(turn.id)]
    # ... and otherwise it stands.
    heavy = [ev.NewWheel(mass_g=11_000, lot=code("wheel"))]
    scene.say(_correct(scene, hoop, scene.build(ev.Hoop, 30, wheels=heavy, **said)))
    assert scene.held_g(code("wheel")) == {"QM": 2_000}


def test_a_replacement_must_fit_by_itself() -> None:
    """It takes too much; it makes what another made; it uses what is held; it names the unknown."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000)
    other = scene.tell(ev.Cut, 45, lot=code("wheel"), pieces=[scene.piece(300, 2)])
    document = ev.Document(number="D1")

    def dispatch(mass_g: int, to: str = "SHOP-1") -> ev.Dispatch:
        lines = [ev.Line(lot=portion, mass_g=mass_g)]
        return scene.build(ev.Dispatch, 60, lines=lines, document=document, to=to)

    wrong = dispatch(500)
    scene.say(wrong)
    problem = scene.refusal_of(_correct(scene, wrong, dispatch(1_011)))
    assert (problem.code, problem.lot, problem.left_g) == ("not_enough", portion, 1_000)
    assert scene.refusal_of(_correct(scene, wrong, dispatch(9, "NONE"))).code == "not_declared"
    again = scene.build(ev.Cut, 45, lot=code("wheel"), pieces=[scene.piece(300, 1)])
    assert scene.refusal_of(_correct(scene, other, again)).code == "lot_exists"
    scene.tell(ev.Hold, 50, lots=[portion], reason="smell")
    problem = scene.refusal_of(_correct(scene, wrong, dispatch(400)))
    assert (problem.code, problem.lot) == ("lot_held", portion)


def test_a_packing_is_corrected_after_its_case_has_left() -> None:
    """The case held the second portion, not the first: after the correction that is what the
    customer holds."""
    scene = Scene()
    wheel = scene.wheel()
    scene.tell(ev.Cut, 40, lot=wheel, pieces=[scene.piece(500), scene.piece(400, 2)])
    lots = [ev.Packed(lot=code("portion"), count=1, mass_g=300)]
    wrong = scene.tell(ev.Pack, 50, case=_CASE, lots=lots)
    lines, document = [ev.Line(case=_CASE)], ev.Document(number="D1")
    dispatch = scene.tell(ev.Dispatch, 60, lines=lines, document=document, to="SHOP-1")
    lots = [ev.Packed(lot=code("portion", 2), count=1, mass_g=300)]
    scene.say(_correct(scene, wrong, scene.build(ev.Pack, 50, case=_CASE, lots=lots)))
    assert scene.held_g(code("portion")) == {"QM": 500}
    assert scene.held_g(code("portion", 2)) == {"QM": 100, "SHOP-1": 300}
    # Had all of the second been cut up meanwhile, the dispatch would stand in the way.
    scene = Scene()
    wheel = scene.wheel()
    scene.tell(ev.Cut, 40, lot=wheel, pieces=[scene.piece(500), scene.piece(400, 2)])
    first = [ev.Packed(lot=code("portion"), count=1, mass_g=300)]
    wrong = scene.tell(ev.Pack, 50, case=_CASE, lots=first)
    scene.tell(ev.Cut, 55, lot=code("portion", 2), pieces=[scene.piece(395, 3)])
    dispatch = scene.tell(ev.Dispatch, 60, lines=lines, document=document, to="SHOP-1")
    problem = scene.refusal_of(
        _correct(scene, wrong, scene.build(ev.Pack, 50, case=_CASE, lots=lots))
    )
    assert problem.code == "correction_in_the_way"
    assert problem.event_ids == [str(dispatch.id)]


def test_a_hold_that_was_a_mistake_was_never_there() -> None:
    """After the correction the lot may be used, even at the time the hold stood."""
    scene = Scene()
    wheel = scene.wheel()
    hold = scene.tell(ev.Hold, 50, lots=[wheel], reason="wrong wheel")
    said = {"lot": wheel, "pieces": [scene.piece(100)]}
    assert scene.refused(ev.Cut, 60, **said).code == "lot_held"
    scene.say(_correct(scene, hold))
    scene.tell(ev.Cut, 60, **said)


def test_a_correction_mends_a_discrepancy() -> None:
    """What stood out because a weight was mistyped is gone with the mistake."""
    scene = Scene()
    wheel = scene.wheel(mass_g=10_000)
    wrong = scene.tell(ev.Weigh, 60, lot=wheel, mass_g=12_000)
    assert scene.found(wheel) == [("heavier_than_before", False)]
    scene.say(_correct(scene, wrong))
    assert scene.found(wheel) == []


@pytest.mark.parametrize("with_replacement", [True, False])
def test_correcting_what_nobody_told_is_accepted(with_replacement: bool) -> None:
    """The event may still come; a replacement counts at once."""
    scene = Scene()
    wheel = scene.wheel()
    right = scene.build(ev.Weigh, 60, lot=wheel, mass_g=8_000) if with_replacement else None
    scene.tell(ev.Correct, 300, event=event_id(7_777), reason="mistyped", replacement=right)
    assert scene.held_g(wheel) == {"QM": 8_000 if with_replacement else 10_000}
