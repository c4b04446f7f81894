"""What is told late: pending lots, births after the fact, discrepancies that come and go."""

from itertools import permutations

from rindline_schema import events as ev
from rindline_schema.gs1 import sscc
from tests.histories.telling import record_of
from tests.ledger.scene import Scene, code


def _hoop(scene: Scene, minutes: int, mass_g: int) -> ev.Hoop:
    wheels = [ev.NewWheel(mass_g=mass_g, lot=code("wheel"))]
    said = {"make": code("make"), "product": "BLUE", "room": "QM-WARM"}
    return scene.build(ev.Hoop, minutes, wheels=wheels, **said)


def test_a_lot_nobody_made_yet_is_pending() -> None:
    """It may be turned, moved, weighed, cut, sold: each answer says that it is pending, and its
    grams are owed until its own event comes."""
    scene = Scene()
    wheel = code("wheel")
    assert scene.warned(ev.Tend, 60, task="turn", lots=[wheel]) == ["pending"]
    assert scene.warned(ev.Weigh, 61, lot=wheel, mass_g=9_000) == ["pending"]
    assert scene.warned(ev.Cut, 62, lot=wheel, pieces=[scene.piece(4_000)]) == ["pending"]
    assert scene.record(wheel).state == "pending"
    assert scene.record(code("portion")).state == "on_hand"
    recorded = scene.say(_hoop(scene, 30, 10_000))
    assert [(w.code, w.lot) for w in recorded.warnings] == [("pending", code("make"))]
    assert scene.record(wheel).state == "on_hand"
    assert scene.held_g(wheel) == {"QM": 5_000}
    assert scene.record(wheel).ripening_g == 1_000


def test_a_late_birth_shows_what_cannot_be_and_is_not_refused() -> None:
    """4 kg were cut of a wheel that, as is told later, weighed 1 kg, and was turned before it
    was hooped: both stand out, for a person to look into."""
    scene = Scene()
    wheel = code("wheel")
    scene.tell(ev.Tend, 20, task="turn", lots=[wheel])
    scene.tell(ev.Cut, 62, lot=wheel, pieces=[scene.piece(4_000)])
    assert scene.found(wheel) == []
    recorded = scene.say(_hoop(scene, 30, 1_000))
    codes = {(w.code, w.lot) for w in recorded.warnings}
    assert codes >= {("before_it_existed", wheel), ("not_enough", wheel)}
    assert set(scene.found(wheel)) == {("before_it_existed", True), ("not_enough", True)}
    grams = {found.kind: found.grams for found in scene.record(wheel).found}
    assert grams["not_enough"] == 3_000


def test_a_standing_discrepancy_does_not_stop_other_work() -> None:
    """A wheel with more cut of it than it had can be turned, held and weighed; nothing more can
    be taken of it."""
    scene = Scene()
    wheel = code("wheel")
    scene.tell(ev.Cut, 62, lot=wheel, pieces=[scene.piece(2_000, 1), scene.piece(2_000, 2)])
    scene.say(_hoop(scene, 30, 1_000))
    assert scene.warned(ev.Tend, 70, task="turn", lots=[wheel]) == []
    assert scene.warned(ev.Hold, 71, lots=[wheel], reason="does not add up") == []
    problem = scene.refused(
        ev.Cut, 72, lot=wheel, pieces=[scene.piece(500, 3)], override="have a look"
    )
    assert (problem.code, problem.left_g) == ("not_enough", 0)


def test_what_was_missing_vanishes_with_the_fact_that_was_missing() -> None:
    """Cut where it was not known to be, more than was known to be there: not once the arrival
    and the right weight are told. In all orders the same record."""
    records = set()
    for order in permutations(range(4)):
        scene = Scene()
        scene.vat()
        document = ev.Document(number="D1")
        line = ev.Line(lot=code("wheel"))
        events: list[ev.Event] = [
            _hoop(scene, 30, 10_000),
            scene.build(ev.Dispatch, 40, lines=[line], document=document, to_site="QR"),
            scene.build(ev.Arrive, 50, site="QR", lines=[line], document=document, room="QR-1"),
            scene.build(ev.Cut, 60, site="QR", lot=code("wheel"), pieces=[scene.piece(9_000)]),
        ]
        for i in order:
            scene.say(events[i])
        assert scene.found(code("wheel")) == []
        assert scene.held_g(code("wheel")) == {"QR": 1_000}
        records.add(record_of(scene.world))
    assert len(records) == 1


def test_a_late_claim_is_refused_where_it_leaves_too_little_for_later_ones() -> None:
    """9 kg were cut at 60; a cut of 2 kg at 50 told afterwards cannot have been, though at its
    time there was enough; one of 1 kg can."""
    scene = Scene()
    wheel = scene.wheel(mass_g=10_000)
    scene.tell(ev.Cut, 60, lot=wheel, pieces=[scene.piece(9_000)])
    problem = scene.refused(ev.Cut, 50, lot=wheel, pieces=[scene.piece(2_000, 2)])
    assert (problem.code, problem.left_g) == ("not_enough", 1_000)
    scene.tell(ev.Cut, 50, lot=wheel, pieces=[scene.piece(1_000, 2)])


def test_a_late_weighing_that_leaves_too_little_is_recorded() -> None:
    """A scale says what it says: the cut told before then stands out."""
    scene = Scene()
    wheel = scene.wheel(mass_g=10_000)
    scene.tell(ev.Cut, 60, lot=wheel, pieces=[scene.piece(9_000)])
    assert scene.warned(ev.Weigh, 50, lot=wheel, mass_g=8_000) == ["not_enough"]
    assert scene.found(wheel) == [("not_enough", True)]


def test_at_one_and_the_same_time_what_brings_comes_before_what_takes() -> None:
    """Milk received, made, hooped and cut within one minute, told backwards."""
    scene = Scene()
    at_once: list[ev.Event] = [
        scene.build(ev.Cut, 10, lot=code("wheel"), pieces=[scene.piece(9_000)], weighed_g=9_500),
        _hoop(scene, 10, 10_000),
        scene.build(
            ev.Make, 10, product="CURD", vat="VAT-1", lot=code("make"),
            inputs=[ev.Input(lot=code("milk"), mass_g=50_000)],
        ),
        scene.build(
            ev.Receive, 10, product="MILK", supplier="HERD-1", lot=code("milk"), mass_g=50_000
        ),
    ]  # fmt: skip
    for event in at_once:
        scene.say(event)
    assert all(not book.record.found for book in scene.world.books.values())
    assert scene.record(code("wheel")).ripening_g == 500


def test_a_round_trip_told_late_does_not_block_itself() -> None:
    """A wheel went to the store and back, and to the store again, where it was cut: with both
    first dispatches told last, in either order, nothing is refused for good."""
    for late in ((0, 2), (2, 0)):
        scene = Scene()
        wheel = scene.wheel(mass_g=10_000)
        line = ev.Line(lot=wheel)
        trips = (("QM", "QR", "D1"), ("QR", "QM", "D2"), ("QM", "QR", "D3"))
        events: list[ev.Event] = []
        for i, (from_site, to_site, number) in enumerate(trips):
            document, minutes = ev.Document(number=number), 40 + 20 * i
            said = {"lines": [line], "document": document}
            arrived = [ev.Line(lot=wheel, mass_g=10_000, count=1)]
            events += [
                scene.build(ev.Dispatch, minutes, site=from_site, to_site=to_site, **said),
                scene.build(
                    ev.Arrive, minutes + 10, site=to_site, lines=arrived, document=document
                ),
            ]
        weighed = scene.build(ev.Weigh, 110, site="QR", lot=wheel, mass_g=9_000)
        cut = scene.build(ev.Cut, 120, site="QR", lot=wheel, pieces=[scene.piece(8_900)])
        for event in [*(e for i, e in enumerate(events) if i not in late), weighed, cut]:
            scene.say(event)
        for i in late:
            scene.say(events[i])
        assert scene.found(wheel) == []
        assert scene.held_g(wheel) == {"QR": 100}


def test_a_packing_told_late_is_not_held_against_what_others_did() -> None:
    """A portion went to the store in a case and came back in another, and was cut. Both packings
    are told last: the first leaves the cut without goods, as a discrepancy; the second mends it.
    """
    scene = Scene()
    portion = scene.portion(mass_g=1_000, count=1)
    packings: list[ev.Event] = []
    for number, (from_site, to_site) in enumerate((("QM", "QR"), ("QR", "QM"))):
        case, minutes = sscc(3, "952012", number), 50 + 20 * number
        lots = [ev.Packed(lot=portion, count=1, mass_g=1_000)]
        packings.append(scene.build(ev.Pack, minutes, site=from_site, case=case, lots=lots))
        said = {"lines": [ev.Line(case=case)], "document": ev.Document(number=f"D{number}")}
        scene.tell(ev.Dispatch, minutes + 2, site=from_site, to_site=to_site, **said)
        scene.tell(ev.Arrive, minutes + 10, site=to_site, **said)
        scene.tell(ev.Unpack, minutes + 12, site=to_site, case=case)
    scene.tell(ev.Cut, 100, lot=portion, pieces=[scene.piece(900, 2)])
    recorded = scene.say(packings[0])
    assert [warned.code for warned in recorded.warnings] == ["not_enough"]
    scene.say(packings[1])
    assert scene.found(portion) == []
    assert scene.held_g(portion) == {"QM": 100}
