"""Origin: which milk, by mass, which make, which wheels; adding up to all of it."""

from datetime import timedelta

import pytest

from rindline_schema import SAFETY_NOTE
from rindline_schema.events import Blend, Cut, Heat, Input, Make, NewLot, Receive
from rindline_schema.params import LotSearchParams
from rindline_server.service import ProblemError, Service
from tests.service.callers import MANAGER, recorded
from tests.service.dairy import NOW, Dairy
from tests.service.story import Story


def _shares(service: Service, lot: str) -> dict[str, int]:
    shares = {share.lot: share.share_ppm for share in service.origin(MANAGER, lot).milk}
    assert sum(shares.values()) == 1_000_000
    return shares


def test_a_vat_of_forty_and_sixty_gives_forty_and_sixty(service: Service) -> None:
    """40 kg and 60 kg of two deliveries: 40 % and 60 % in each wheel and portion of that vat."""
    story = Story.of(Dairy())
    recorded(service, story.events)
    expected = {story.milk_b: 600_000, story.milk_a: 400_000}
    of_make_1 = [
        lot
        for lot in story.portions
        if [make.lot for make in service.origin(MANAGER, lot).makes] == [story.make_1]
    ]
    assert len(of_make_1) >= 5
    for lot in (story.make_1, *story.wheels[:3], *of_make_1):
        assert _shares(service, lot) == expected
        assert list(_shares(service, lot)) == [story.milk_b, story.milk_a], "largest share first"
    halves = {story.milk_a: 500_000, story.milk_b: 500_000}
    assert _shares(service, story.wheels[3]) == halves


def test_shares_multiply_through_a_blend(service: Service) -> None:
    """800 g at 40/60 and 1,200 g at 50/50: 0.4 x 0.4 + 0.6 x 0.5 = 46 %, and 54 %."""
    story = Story.of(Dairy())
    recorded(service, story.events)
    assert _shares(service, story.crumble) == {story.milk_a: 460_000, story.milk_b: 540_000}
    origin = service.origin(MANAGER, story.crumble)
    assert {wheel.lot for wheel in origin.wheels} == {story.wheels[0], story.wheels[3]}
    assert {make.lot for make in origin.makes} == {story.make_1, story.make_2}
    assert (origin.kind, origin.product_name, origin.pending) == ("blend", "Crumble", [])


def test_thirds_add_up_to_all(service: Service) -> None:
    """Three equal deliveries: shares in parts per million are whole numbers adding up to all."""
    dairy = Dairy()
    milks = [dairy.milk(1_000) for _ in range(3)]
    make = dairy.make(*((milk.lot, 1_000) for milk in milks))
    recorded(service, [*dairy.declared(), *milks, make])
    assert sorted(_shares(service, make.lot or "").values()) == [333_333, 333_333, 333_334]


def test_what_an_origin_says(service: Service) -> None:
    """Suppliers by name, heat treatment, ingredients, age from the make, and the safety line."""
    dairy = Dairy()
    declared = dairy.declared()
    milk = dairy.milk(10_000, "HERD-B")
    rennet = dairy.event(
        Receive,
        product="RENNET",
        supplier="HERD-A",
        lot=dairy.code("ingredient"),
        mass_g=100,
    )
    make = dairy.event(
        Make,
        product="CURD",
        vat="VAT",
        lot=dairy.code("make"),
        inputs=[Input(lot=milk.lot or "", mass_g=10_000), Input(lot=rennet.lot or "", mass_g=10)],
        heat=Heat(treatment="thermised"),
    )
    hoop = dairy.hoop(make.lot, [1_000])
    cut = dairy.cut(hoop.wheels[0].lot, dairy.piece(200))
    recorded(service, [*declared, milk, rennet, make, hoop, cut])
    origin = service.origin(MANAGER, cut.pieces[0].lot or "")
    (share,) = origin.milk
    assert (share.supplier, share.supplier_name, share.share_ppm) == ("HERD-B", "Herd B", 1_000_000)
    assert share.received_at == milk.at
    (ingredient,) = origin.ingredients
    assert (ingredient.lot, ingredient.product_name, ingredient.supplier_name) == (
        *(rennet.lot, "Rennet", "Herd A"),
    )
    (maker,) = origin.makes
    assert (maker.lot, maker.milk_treatment, maker.made_at) == (make.lot, "thermised", make.at)
    assert [(wheel.lot, wheel.made_g) for wheel in origin.wheels] == [(cut.lot, 1_000)]
    assert origin.age_days == (NOW - make.at) // timedelta(days=1)
    assert origin.product_name == "Quillmere Blue wedge"
    assert origin.safety_note == SAFETY_NOTE
    assert not origin.held


def test_what_was_not_told_yet_is_pending(service: Service) -> None:
    """A portion whose wheel, or a blend part of which, is still untold says so; shares add up."""
    dairy = Dairy()
    events, wheels = dairy.wheels(1)
    untold = dairy.code("trim")
    cut = dairy.cut(wheels[0], dairy.piece(500, "trim"))
    blend = dairy.event(
        Blend,
        inputs=[Input(lot=cut.pieces[0].lot or "", mass_g=500), Input(lot=untold, mass_g=500)],
        outputs=[NewLot(product="CRUMBLE", lot=dairy.code("blend"), mass_g=1_000)],
    )
    orphan = dairy.event(Cut, lot=dairy.code("wheel"), pieces=[dairy.piece(100)])
    recorded(service, [*dairy.declared(), *events, cut, blend, orphan])
    crumble = service.origin(MANAGER, blend.outputs[0].lot or "")
    assert crumble.pending == [untold]
    assert sum(share.share_ppm for share in crumble.milk) == 1_000_000
    alone = service.origin(MANAGER, orphan.pieces[0].lot or "")
    assert (alone.pending, alone.milk) == ([orphan.lot], [])
    assert service.origin(MANAGER, untold).state == "pending"


def test_a_lot_nobody_mentioned_has_no_origin(service: Service) -> None:
    """A well-formed code alone is no lot."""
    with pytest.raises(ProblemError) as error:
        service.origin(MANAGER, Dairy().code("portion"))
    assert error.value.problem.code == "not_found"


def test_lots_are_found_page_by_page(service: Service) -> None:
    """Every lot once in order of codes, whatever the size of a page; filters leave others out."""
    story = Story.of(Dairy())
    recorded(service, story.events)
    found, cursor = [], None
    for _ in range(50):
        page = service.lots(MANAGER, LotSearchParams(limit=3, cursor=cursor))
        found += [lot.lot for lot in page.lots]
        cursor = page.next_cursor
        if cursor is None:
            break
    told = [lot for lot in found if lot in story.lots]
    assert found == told == sorted(set(found))
    wheels = service.lots(MANAGER, LotSearchParams(kind="wheel")).lots
    assert {lot.lot for lot in wheels} == {*story.wheels, story.untold_wheel}
    pending = service.lots(MANAGER, LotSearchParams(state="pending")).lots
    assert story.untold_wheel in {lot.lot for lot in pending}
    with pytest.raises(ProblemError) as error:
        service.lots(MANAGER, LotSearchParams(cursor="no-cursor!"))
    assert error.value.problem.code == "bad_cursor"
