"""Cases, dispatch and arrival: what each does, and when it is refused."""

import pytest

from rindline_schema import events as ev
from rindline_schema.gs1 import sscc
from tests.ledger.scene import Scene, code

_CASE, _OTHER = sscc(3, "952012", 1), sscc(3, "952012", 2)
_DOCUMENT = ev.Document(number="D1")


def _packed(lot: str, mass_g: int, count: int = 1) -> ev.Packed:
    return ev.Packed(lot=lot, count=count, mass_g=mass_g)


def _dispatch(line: ev.Line, **fields: object) -> dict[str, object]:
    return {"lines": [line], "document": _DOCUMENT, "to": "SHOP-1"} | fields


def test_what_lies_in_a_case_goes_with_it_and_is_no_kin() -> None:
    """Both lots of a case are with the customer then; there is no edge between them."""
    scene = Scene()
    wheel = scene.wheel()
    scene.tell(ev.Cut, 40, lot=wheel, pieces=[scene.piece(500), scene.piece(400, 2)])
    edges = list(scene.world.new_edges)
    lots = [_packed(code("portion"), 500), _packed(code("portion", 2), 100)]
    scene.tell(ev.Pack, 50, case=_CASE, lots=lots)
    scene.tell(ev.Dispatch, 60, **_dispatch(ev.Line(case=_CASE)))
    assert scene.held_g(code("portion")) == {"SHOP-1": 500}
    assert scene.held_g(code("portion", 2)) == {"QM": 300, "SHOP-1": 100}
    assert scene.world.new_edges == edges


def test_no_more_is_packed_than_lies_there() -> None:
    """1,000 g with a tolerance of 10 g: 1,010 fit in a case, 1,011 don't."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000)
    problem = scene.refused(ev.Pack, 60, case=_CASE, lots=[_packed(portion, 1_011)])
    assert (problem.code, problem.lot, problem.left_g) == ("not_enough", portion, 1_000)
    scene.tell(ev.Pack, 60, case=_CASE, lots=[_packed(portion, 1_010)])


def test_what_is_packed_twice_stands_out_until_the_unpacking_is_told() -> None:
    """An unpacking still to be told could explain it, so it is a discrepancy, and vanishes."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000)
    scene.tell(ev.Pack, 60, case=_CASE, lots=[_packed(portion, 1_000, 4)])
    said = {"case": _OTHER, "lots": [_packed(portion, 1_000, 4)]}
    assert scene.warned(ev.Pack, 80, **said) == ["packed_twice"]
    assert scene.found(portion) == [("packed_twice", False)]
    scene.tell(ev.Unpack, 70, case=_CASE)
    assert scene.found(portion) == []


def test_more_out_of_a_case_than_was_put_in_stands_out() -> None:
    """A packing still to be told could explain it."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000)
    said = {"case": _CASE, "lots": [_packed(portion, 200)]}
    assert scene.warned(ev.Unpack, 70, **said) == ["not_packed"]
    scene.tell(ev.Pack, 60, case=_CASE, lots=[_packed(portion, 200)])
    assert scene.found(portion) == []


def test_what_was_unpacked_stays_when_the_case_leaves() -> None:
    """One lot is taken out by name, later all the rest; an emptied case carries nothing."""
    scene = Scene()
    wheel = scene.wheel()
    scene.tell(ev.Cut, 40, lot=wheel, pieces=[scene.piece(500), scene.piece(400, 2)])
    first, second = code("portion"), code("portion", 2)
    scene.tell(ev.Pack, 50, case=_CASE, lots=[_packed(first, 500), _packed(second, 400)])
    scene.tell(ev.Unpack, 55, case=_CASE, lots=[_packed(first, 500)])
    line = ev.Line(case=_CASE)
    scene.tell(ev.Dispatch, 60, **_dispatch(line, to=None, to_site="QC"))
    scene.tell(ev.Arrive, 70, site="QC", lines=[line], document=_DOCUMENT)
    scene.tell(ev.Unpack, 70, site="QC", case=_CASE)
    scene.tell(ev.Dispatch, 80, site="QC", **_dispatch(line))
    assert scene.held_g(first) == {"QM": 500}
    assert scene.held_g(second) == {"QC": 400}


def test_goods_are_in_transit_and_then_held_by_the_receiver() -> None:
    """The code stays the same; parts go to a customer and to another site of ours."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000, count=4)
    line = ev.Line(lot=portion, count=1, mass_g=250)
    scene.tell(ev.Dispatch, 60, **_dispatch(line))
    scene.tell(ev.Dispatch, 61, **_dispatch(line, to=None, to_site="QC"))
    transit = {h.holder: (h.to_site, h.count) for h in scene.record(portion).holdings}
    assert transit["D1"] == ("QC", 1)
    assert scene.held_g(portion) == {"QM": 500, "SHOP-1": 250, "D1": 250}
    scene.tell(ev.Arrive, 70, site="QC", lines=[ev.Line(lot=portion)], document=_DOCUMENT)
    assert scene.held_g(portion) == {"QM": 500, "SHOP-1": 250, "QC": 250}


def test_a_line_without_figures_is_all_that_lies_here() -> None:
    """After a quarter was discarded, all is three quarters, whenever that discard is told."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000, count=4)
    scene.tell(ev.Dispatch, 70, **_dispatch(ev.Line(lot=portion)))
    discarded = [ev.Discarded(lot=portion, mass_g=250, count=1)]
    scene.tell(ev.Discard, 60, lots=discarded, reason="dropped")
    holding = scene.record(portion).holdings[0]
    assert (holding.holder, holding.mass_g, holding.count) == ("SHOP-1", 750, 3)


@pytest.mark.parametrize(
    ("line", "left_g"),
    [
        (ev.Line(lot=code("portion"), mass_g=1_011), 1_000),
        (ev.Line(lot=code("portion"), mass_g=900, count=5), None),
    ],
)
def test_no_more_is_dispatched_than_is_held_here(line: ev.Line, left_g: int | None) -> None:
    """Neither more grams than 1,000 (and the scale's 10), nor more pieces than 4."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000, count=4)
    problem = scene.refused(ev.Dispatch, 60, **_dispatch(line))
    assert (problem.code, problem.lot, problem.left_g) == ("not_enough", portion, left_g)


def test_what_is_sold_is_not_sold_again() -> None:
    """Told with grams or without, by lot or by case: the second sale finds nothing."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000)
    scene.tell(ev.Pack, 50, case=_CASE, lots=[_packed(portion, 1_000, 4)])
    scene.tell(ev.Dispatch, 60, **_dispatch(ev.Line(lot=portion)))
    again = ev.Line(lot=portion, mass_g=100)
    assert scene.refused(ev.Dispatch, 70, **_dispatch(again)).code == "not_enough"
    assert scene.refused(ev.Dispatch, 70, **_dispatch(ev.Line(lot=portion))).code == "not_here"
    assert scene.refused(ev.Dispatch, 70, **_dispatch(ev.Line(case=_CASE))).code == "not_enough"


def test_no_site_sells_what_is_gone_altogether() -> None:
    """A lot sold out at one site with grams told: another site, where an arrival might still be
    untold, cannot have any of it either. If a half is left, it may have that half."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000, count=4)
    scene.tell(ev.Dispatch, 60, **_dispatch(ev.Line(lot=portion, mass_g=500, count=2)))
    elsewhere = _dispatch(ev.Line(lot=portion, mass_g=600, count=2))
    problem = scene.refused(ev.Dispatch, 90, site="QC", **elsewhere)
    assert (problem.code, problem.left_g) == ("not_enough", 500)
    half = _dispatch(ev.Line(lot=portion, mass_g=500, count=2))
    assert scene.warned(ev.Dispatch, 90, site="QC", **half) == ["not_here"]


def test_all_that_was_left_may_have_been_less() -> None:
    """A lot sold out at one site with no grams told: what another site has may have left before,
    and then less was left to sell. It stands out until that dispatch is told."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000, count=4)
    scene.tell(ev.Dispatch, 60, **_dispatch(ev.Line(lot=portion)))
    half = ev.Line(lot=portion, mass_g=500, count=2)
    assert scene.warned(ev.Dispatch, 90, site="QC", **_dispatch(half)) == ["not_here"]
    onward = ev.Document(number="D2")
    scene.tell(ev.Dispatch, 50, **_dispatch(half, document=onward, to=None, to_site="QC"))
    scene.tell(ev.Arrive, 70, site="QC", lines=[ev.Line(lot=portion)], document=onward)
    assert scene.found(portion) == []
    assert scene.held_g(portion) == {"SHOP-1": 1_000}


def test_a_held_lot_is_not_dispatched_without_a_reason() -> None:
    """Alone or in a case; with a stated reason it is, and the answer says so."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000)
    scene.tell(ev.Pack, 50, case=_CASE, lots=[_packed(portion, 500, 2)])
    hold = scene.tell(ev.Hold, 55, lots=[portion], reason="listeria suspected")
    for line in (ev.Line(lot=portion, mass_g=100), ev.Line(case=_CASE)):
        problem = scene.refused(ev.Dispatch, 60, **_dispatch(line))
        assert (problem.code, problem.lot) == ("lot_held", portion)
        assert problem.event_ids == [str(hold.id)]
    said = _dispatch(ev.Line(case=_CASE), override="to the laboratory's own kitchen")
    assert scene.warned(ev.Dispatch, 60, **said) == ["done_despite_hold"]


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"to": "NOBODY"}, "not_declared"),
        ({"to": "HERD-1"}, "wrong_kind"),
        ({"to": None, "to_site": "XX"}, "not_declared"),
        ({"carrier": "NOBODY"}, "not_declared"),
        ({"carrier": "LAB"}, "wrong_kind"),
    ],
)
def test_who_receives_must_be_declared(fields: dict[str, str], expected: str) -> None:
    """Unknown customer, site or carrier; a herd is no customer, a laboratory no carrier."""
    scene = Scene()
    said = _dispatch(ev.Line(lot=scene.portion()), **fields)
    assert scene.refused(ev.Dispatch, 60, **said).code == expected


def _sent(scene: Scene, mass_g: int = 10_000) -> str:
    wheel = scene.wheel(mass_g=mass_g)
    said = _dispatch(ev.Line(lot=wheel, mass_g=mass_g), to=None, to_site="QR")
    scene.tell(ev.Dispatch, 60, **said)
    return wheel


@pytest.mark.parametrize(
    ("came_g", "found"),
    # 0.5 % of 10,000 g are 50 g.
    [(9_950, []), (9_949, ["arrival_differs"]), (10_050, []), (10_051, ["arrival_differs"])],
)
def test_a_difference_on_arrival_is_a_discrepancy(came_g: int, found: list[str]) -> None:
    """Within the scale tolerance it is loss on the way; beyond, it stands out; never refused."""
    scene = Scene()
    wheel = _sent(scene)
    lines = [ev.Line(lot=wheel, mass_g=came_g, count=1)]
    assert scene.warned(ev.Arrive, 70, site="QR", lines=lines, document=_DOCUMENT) == found
    assert scene.held_g(wheel)["QR"] == came_g
    if not found:
        assert scene.record(wheel).ripening_g == 10_000 - came_g


def test_an_arrival_is_taken_before_its_dispatch_is_known() -> None:
    """Told first it stands as a discrepancy; what came can be used; then all falls into place."""
    scene = Scene()
    wheel = scene.wheel()
    lines = [ev.Line(lot=wheel)]
    said = {"site": "QR", "lines": lines, "document": _DOCUMENT}
    assert scene.warned(ev.Arrive, 70, **said) == ["dispatch_not_told"]
    piece = scene.piece(4_000)
    warned = scene.warned(ev.Cut, 80, site="QR", lot=wheel, pieces=[piece])
    assert warned == ["not_here"]
    scene.tell(ev.Dispatch, 60, **_dispatch(ev.Line(lot=wheel), to=None, to_site="QR"))
    assert scene.found(wheel) == []
    assert scene.held_g(wheel) == {"QR": 6_000}


def test_two_loads_told_late_do_not_stand_in_each_others_way() -> None:
    """A site used up two loads before it was told what they held: a loose lot whose dispatch, and
    a case whose packing, come last. The dispatch leaves a part of what was used without origin,
    which was missing before, so it is no reason to refuse it; the packing mends it."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000, count=4)
    loose, in_case = ev.Document(number="D1"), ev.Document(number="D2")
    case = [ev.Line(case=_CASE)]
    scene.tell(ev.Dispatch, 60, lines=case, document=in_case, to_site="QC")
    scene.tell(ev.Arrive, 70, site="QC", lines=[ev.Line(lot=portion)], document=loose)
    scene.tell(ev.Arrive, 71, site="QC", lines=case, document=in_case)
    scene.tell(ev.Dispatch, 80, site="QC", **_dispatch(ev.Line(lot=portion, mass_g=900)))
    line = ev.Line(lot=portion, mass_g=450, count=2)
    warned = scene.warned(ev.Dispatch, 60, **_dispatch(line, document=loose, to=None, to_site="QC"))
    assert warned == []
    assert scene.found(portion) == [("not_enough", True)]
    scene.tell(ev.Pack, 50, case=_CASE, lots=[_packed(portion, 450, 2)])
    assert scene.found(portion) == []
    assert scene.held_g(portion) == {"QM": 100, "SHOP-1": 900}


def test_what_came_back_uncounted_can_be_used() -> None:
    """Gone from here, and here again by an arrival that names no grams, its dispatch untold: a
    cut is taken, and fits once that dispatch is told. A customer's return is not different."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000)
    line, back = ev.Line(lot=portion), ev.Document(number="D2")
    scene.tell(ev.Dispatch, 60, **_dispatch(line, to=None, to_site="QR"))
    scene.tell(ev.Arrive, 80, lines=[line], document=back)
    said = {"lot": portion, "pieces": [scene.piece(900, 2)]}
    assert scene.warned(ev.Cut, 90, **said) == ["not_here"]
    scene.tell(ev.Arrive, 65, site="QR", lines=[line], document=_DOCUMENT)
    scene.tell(ev.Dispatch, 70, site="QR", **_dispatch(line, document=back, to=None, to_site="QM"))
    assert scene.found(portion) == []
    scene = Scene()
    portion = scene.portion(mass_g=1_000)
    scene.tell(ev.Dispatch, 60, **_dispatch(line))
    scene.tell(ev.Arrive, 80, lines=[line], returned_by="SHOP-2")
    assert "not_here" in scene.warned(ev.Cut, 90, **said)


def test_a_return_comes_off_what_the_customer_holds() -> None:
    """Back here it can be sold again; more back than was sent stands out."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000, count=4)
    scene.tell(ev.Dispatch, 60, **_dispatch(ev.Line(lot=portion, mass_g=500, count=2)))
    said = {"lines": [ev.Line(lot=portion, mass_g=250, count=1)], "returned_by": "SHOP-1"}
    assert scene.warned(ev.Arrive, 70, **said) == []
    assert scene.held_g(portion) == {"QM": 750, "SHOP-1": 250}
    scene.tell(ev.Dispatch, 80, **_dispatch(ev.Line(lot=portion, mass_g=750, count=3)))
    said["lines"] = [ev.Line(lot=portion, mass_g=1_011)]
    assert scene.warned(ev.Arrive, 90, **said) == ["returned_more"]


def test_arriving_is_checked_for_names_only() -> None:
    """A customer or room that is not declared, or not of this site."""
    scene = Scene()
    lines = [ev.Line(lot=scene.portion())]
    assert scene.refused(ev.Arrive, 70, lines=lines, returned_by="NONE").code == "not_declared"
    assert scene.refused(ev.Arrive, 70, lines=lines, returned_by="LAB").code == "wrong_kind"
    problem = scene.refused(ev.Arrive, 70, lines=lines, document=_DOCUMENT, room="QR-1")
    assert problem.code == "wrong_kind"


def test_at_one_minute_goods_come_before_they_go() -> None:
    """Arrived, packed and sent on within one minute, told in any order."""
    scene = Scene()
    wheel = _sent(scene)
    line = ev.Line(lot=wheel)
    onward = ev.Document(number="D2")
    scene.tell(ev.Dispatch, 70, site="QR", **_dispatch(line, document=onward))
    scene.tell(ev.Arrive, 70, site="QR", lines=[line], document=_DOCUMENT)
    assert scene.found(wheel) == []
    assert scene.held_g(wheel) == {"SHOP-1": 10_000}
