"""Samples, results, holds, releases, discards, cleaning."""

import pytest

from rindline_schema import events as ev
from rindline_server.ledger.holds import holds_at
from rindline_server.ledger.times import to_us
from tests.ledger.scene import Scene, at, code, event_id


def _is_held(scene: Scene, lot: str, minutes: int) -> bool:
    return bool(holds_at(scene.world, lot, to_us(at(minutes))))


def _sample(scene: Scene, lot: str, minutes: int = 60) -> None:
    scene.tell(ev.Sample, minutes, lot=lot, reference="S-1", mass_g=25, laboratory="LAB")


def test_a_sample_takes_its_mass() -> None:
    """25 g fewer, as sample; no more than there is; a laboratory that is declared as one."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000)
    _sample(scene, portion)
    assert scene.record(portion).samples_g == 25
    said = {"lot": portion, "reference": "S-2"}
    assert scene.refused(ev.Sample, 61, mass_g=986, **said).left_g == 975
    assert scene.refused(ev.Sample, 61, laboratory="SHOP-1", **said).code == "wrong_kind"
    assert scene.refused(ev.Sample, 61, laboratory="NONE", **said).code == "not_declared"
    assert scene.refused(ev.Sample, 39, **said).code == "before_it_existed"


@pytest.mark.parametrize("sample_first", [True, False])
@pytest.mark.parametrize(("verdict", "held"), [("passed", 0), ("noted", 0), ("failed", 2)])
def test_a_failed_result_holds_the_lot(sample_first: bool, verdict: str, held: int) -> None:
    """Told before its sample or after: the hold is the same. The sample may stay untold."""
    scene = Scene()
    portion = scene.portion()
    if sample_first:
        _sample(scene, portion)
    scene.tell(ev.Result, 90, sample="S-1", test="listeria", verdict=verdict)
    if not sample_first:
        assert scene.record(portion).hold_flag == 0
        _sample(scene, portion)
    assert scene.record(portion).hold_flag == held


def test_a_hold_is_in_force_from_its_time_to_its_release() -> None:
    """Before and after it the lot may be used; between it may not; told late as well."""
    scene = Scene()
    wheel = scene.wheel(30)
    scene.tell(ev.Hold, 60, lots=[wheel], reason="coat torn")
    scene.tell(ev.Release, 80, lots=[wheel], reason="looked at")
    scene.tell(ev.Cut, 59, lot=wheel, pieces=[scene.piece(100, 1)])
    assert scene.refused(ev.Cut, 60, lot=wheel, pieces=[scene.piece(100, 2)]).code == "lot_held"
    assert scene.refused(ev.Cut, 79, lot=wheel, pieces=[scene.piece(100, 2)]).code == "lot_held"
    scene.tell(ev.Cut, 80, lot=wheel, pieces=[scene.piece(100, 2)])


def test_a_spreading_hold_reaches_what_is_made_later() -> None:
    """Milk held at 50: wheels made before, pieces cut after, and so on down; a hold that does
    not spread reaches the milk alone."""
    for spreads in (True, False):
        scene = Scene()
        portion = scene.portion(40)
        scene.tell(ev.Hold, 50, lots=[code("milk")], reason="herd treated", spreads=spreads)
        piece = scene.piece(100, 2)
        scene.tell(ev.Cut, 60, lot=portion, pieces=[piece], override="known by then")
        for lot in (code("make"), code("wheel"), portion, code("portion", 2)):
            assert _is_held(scene, lot, 70) is spreads
        assert not _is_held(scene, portion, 49)
        assert _is_held(scene, code("milk"), 70)


def test_a_release_of_a_descendant_stops_a_hold_there() -> None:
    """The wheel found good is free with all made of it; its make, and other wheels, are not. A
    hold put on later is a new matter."""
    scene = Scene()
    portion = scene.portion(40)
    wheel, make = code("wheel"), code("make")
    scene.tell(ev.Hold, 50, lots=[code("milk")], reason="herd treated")
    scene.tell(ev.Release, 60, lots=[wheel], reason="tested")
    assert _is_held(scene, portion, 59)
    assert not _is_held(scene, wheel, 60)
    assert not _is_held(scene, portion, 60)
    assert _is_held(scene, make, 60)
    scene.tell(ev.Hold, 70, lots=[make], reason="another herd")
    assert _is_held(scene, portion, 70)


def test_a_blend_is_held_by_any_way_down() -> None:
    """Crumble of a released wheel's portion and another's: the other still holds it."""
    scene = Scene()
    make = scene.vat()
    wheels = [ev.NewWheel(mass_g=10_000, lot=code("wheel", n)) for n in (1, 2)]
    scene.tell(ev.Hoop, 30, make=make, product="BLUE", wheels=wheels, room="QM-WARM")
    for n in (1, 2):
        scene.tell(ev.Cut, 40, lot=code("wheel", n), pieces=[scene.piece(500, n)])
    inputs = [ev.Input(lot=code("portion", n), mass_g=100) for n in (1, 2)]
    outputs = [ev.NewLot(product="CRUMBLE", mass_g=200, lot=code("blend"))]
    scene.tell(ev.Blend, 50, inputs=inputs, outputs=outputs)
    scene.tell(ev.Hold, 60, lots=[make], reason="vat not clean")
    scene.tell(ev.Release, 70, lots=[code("wheel", 1)], reason="tested")
    assert not _is_held(scene, code("portion", 1), 80)
    assert _is_held(scene, code("blend"), 80)
    scene.tell(ev.Release, 75, lots=[code("wheel", 2)], reason="tested")
    assert not _is_held(scene, code("blend"), 80)


def test_a_release_that_names_a_hold_lifts_that_one_alone() -> None:
    """Two holds stand on the portion, one of its own and one from the milk: naming either leaves
    the other in force, and naming the inherited one frees this lot and not the milk."""
    scene = Scene()
    portion = scene.portion(40)
    above = scene.tell(ev.Hold, 50, lots=[code("milk")], reason="herd treated")
    own = scene.tell(ev.Hold, 51, lots=[portion], reason="wrapper torn")
    scene.tell(ev.Release, 60, lots=[portion], reason="wrapped anew", hold=own.id)
    assert _is_held(scene, portion, 61)
    scene.tell(ev.Release, 70, lots=[portion], reason="tested", hold=above.id)
    assert not _is_held(scene, portion, 71)
    assert _is_held(scene, code("wheel"), 71)


def test_what_is_not_held_is_not_released() -> None:
    """No hold at that time, none any more, not that one; a hold that is still to be told may be
    released already."""
    scene = Scene()
    portion = scene.portion(40)
    said = {"lots": [portion], "reason": "tested"}
    assert scene.refused(ev.Release, 60, **said).code == "not_held"
    hold = scene.tell(ev.Hold, 50, lots=[portion], reason="smell")
    other = scene.tell(ev.Hold, 50, lots=[code("trim")], reason="smell")
    assert scene.refused(ev.Release, 49, **said).code == "not_held"
    assert scene.refused(ev.Release, 60, hold=other.id, **said).code == "not_held"
    scene.tell(ev.Release, 60, hold=hold.id, **said)
    assert scene.refused(ev.Release, 70, **said).code == "not_held"
    assert scene.refused(ev.Release, 70, hold=hold.id, **said).code == "not_held"
    scene.tell(ev.Release, 70, hold=event_id(9_999), **said)


def test_a_discard_takes_what_is_there_and_no_more() -> None:
    """Some grams, all that lies here, and what was lost on the way under a document."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000, count=4)
    said = {"reason": "dropped", "method": "pigs"}
    scene.tell(ev.Discard, 60, lots=[ev.Discarded(lot=portion, mass_g=250, count=1)], **said)
    problem = scene.refused(ev.Discard, 61, lots=[ev.Discarded(lot=portion, mass_g=761)], **said)
    assert (problem.code, problem.left_g) == ("not_enough", 750)
    document = ev.Document(number="D1")
    lines = [ev.Line(lot=portion, mass_g=500, count=2)]
    scene.tell(ev.Dispatch, 70, lines=lines, document=document, to_site="QC")
    lost = [ev.Discarded(lot=portion, mass_g=500)]
    scene.tell(ev.Discard, 80, site="QC", lots=lost, document=document, **said)
    scene.tell(ev.Discard, 90, lots=[ev.Discarded(lot=portion)], **said)
    record = scene.record(portion)
    assert (record.discarded_g, record.state) == (1_000, "used_up")
    nothing = [ev.Discarded(lot=portion)]
    assert scene.refused(ev.Discard, 95, lots=nothing, **said).code == "not_here"


def test_held_goods_may_be_discarded_and_sampled() -> None:
    """A hold keeps goods from being used or sent, not from being looked at or destroyed."""
    scene = Scene()
    portion = scene.portion()
    scene.tell(ev.Hold, 50, lots=[portion], reason="smell")
    _sample(scene, portion)
    scene.tell(ev.Discard, 70, lots=[ev.Discarded(lot=portion)], reason="failed")
    assert scene.record(portion).state == "used_up"


def test_cleaning_names_a_declared_tool_or_room() -> None:
    """Unknown tools and rooms of other sites are refused; cleaning leaves no lot's record."""
    scene = Scene()
    books = dict(scene.world.books)
    scene.tell(ev.Clean, 60, tool="NEEDLES", method="boiled")
    scene.tell(ev.Clean, 60, room="QM-WARM", method="washed")
    assert scene.world.books == books
    assert scene.refused(ev.Clean, 60, tool="NONE", method="boiled").code == "not_declared"
    assert scene.refused(ev.Clean, 60, room="QR-1", method="washed").code == "wrong_kind"
