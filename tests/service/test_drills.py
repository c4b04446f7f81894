"""Drills: what they reach, who holds it, and that every gram of it is somewhere."""

import threading
from collections import Counter
from datetime import timedelta
from typing import Any
from uuid import UUID

import msgspec
import pytest

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import DrillAnswer, DrillRequest
from rindline_schema.events import Weigh
from rindline_schema.params import AsOfParams, PageParams, TraceParams
from rindline_server.service import ProblemError, Service
from tests.service.callers import AUDITOR, MANAGER, recorded
from tests.service.dairy import NOW, Dairy
from tests.service.story import Story


@pytest.fixture
def story(service: Service) -> Story:
    story = Story.of(Dairy())
    recorded(service, story.events)
    return story


def _drill(service: Service, *lots: str, **fields: Any) -> DrillAnswer:
    request = DrillRequest(id=fields.pop("id", None) or Dairy(9).id(), lots=list(lots), **fields)
    return service.start_drill(MANAGER, request)


def test_every_gram_is_somewhere(service: Service, story: Story) -> None:
    """For each kind of lot, made = held + used + lost + unaccounted, to the gram."""
    answers = [
        _drill(service, story.milk_a, direction="forward", id=Dairy(10).id()),
        _drill(service, story.crumble, direction="back", id=Dairy(11).id()),
        _drill(service, story.make_1, story.make_2, direction="both", id=Dairy(12).id()),
        _drill(service, *story.lots, direction="both", id=Dairy(13).id()),
        _drill(service, story.untold_wheel, direction="forward", id=Dairy(14).id()),
    ]
    for answer in answers:
        assert answer.stages
        for stage in answer.stages:
            assert stage.made_g == (
                stage.on_hand_g
                + stage.in_transit_g
                + stage.with_customers_g
                + stage.into_lots_g
                + stage.drained_g
                + stage.ripening_loss_g
                + stage.cutting_loss_g
                + stage.samples_g
                + stage.discarded_g
                + stage.unaccounted_g
            ), stage
            assert 0 <= stage.into_trim_g <= stage.into_traced_g <= stage.into_lots_g


def test_the_figures_of_a_make(service: Service, story: Story) -> None:
    """Forward from the vat of 40 and 60 kg: each figure as the story tells it."""
    answer = _drill(service, story.make_1, direction="forward")
    stages = {stage.kind: stage for stage in answer.stages}
    assert list(stages) == ["make", "wheel", "portion", "trim", "blend"]
    make, wheel = stages["make"], stages["wheel"]
    # 100 kg into the vat; three wheels of 5 kg; 80 kg whey weighed and 5 kg drained unweighed.
    assert (make.made_g, make.into_lots_g, make.into_traced_g, make.drained_g) == (
        *(100_000, 15_000, 15_000, 85_000),
    )
    # One weighed 200 g less, one gave a plug of 10 g, one a sample of 50 g and grew by 550 g;
    # cut were 4,500 g with 20 g loss and nothing left (280 g), and 1,100 g as corrected.
    assert (wheel.lots, wheel.made_g, wheel.ripening_loss_g, wheel.samples_g) == (
        3,
        15_000,
        200,
        60,
    )
    assert (wheel.into_lots_g, wheel.into_trim_g, wheel.cutting_loss_g) == (5_600, 1_000, 20)
    assert wheel.unaccounted_g == 280 - 550
    portion, trim, blend = stages["portion"], stages["trim"], stages["blend"]
    # Portions of 2,000, 1,500 and 1,100 g, and two of 700 g out of the second.
    assert (portion.made_g, portion.into_lots_g, portion.discarded_g) == (6_000, 1_400, 700)
    assert (portion.with_customers_g, portion.on_hand_g) == (1_750, 250 + 100 + 1_100 + 700)
    # 1,000 g of trim, 800 g into crumble less its share of 100 g lost among 2,000 g.
    assert (trim.made_g, trim.into_lots_g, trim.cutting_loss_g, trim.on_hand_g) == (
        *(1_000, 760, 40, 200),
    )
    # The crumble holds 1,900 g, whatever else went into it; 760 g of it are on the way.
    assert (blend.made_g, blend.on_hand_g, blend.in_transit_g) == (1_900, 1_140, 760)
    assert make.accounted_pct == 100


def test_who_holds_what(service: Service, story: Story) -> None:
    """By site and room, by document on the way, by customer with documents; sums fit the lots."""
    answer = _drill(service, story.milk_a, direction="forward", purpose="live", reason="laboratory")
    lots = [
        service.lot(MANAGER, lot.lot, AsOfParams())
        for lot in service.trace(MANAGER, story.milk_a, "forward", TraceParams()).answer().lots
    ]
    held: Counter[tuple[str, str, str]] = Counter()
    for lot in lots:
        for holder in lot.holders:
            held[holder.where, holder.holder, holder.room or ""] += holder.mass_g
    assert {("site", s.site, s.room or ""): s.mass_g for s in answer.on_hand} == {
        key: mass_g for key, mass_g in held.items() if key[0] == "site"
    }
    (transit,) = answer.in_transit
    assert (transit.document, transit.to_site, transit.mass_g, transit.count) == (
        *("T-1", "QR", 760, 4),
    )
    shops = {customer.customer: customer for customer in answer.customers}
    assert list(shops) == ["SHOP-A", "SHOP-B"]
    a, b = shops["SHOP-A"], shops["SHOP-B"]
    assert (a.name, a.address, a.lots, a.mass_g, a.count) == (
        *("Shop A", "1 Invented Street", 2, 750 + 500, 3 + 1),
    )
    assert [(d.number, d.mass_g, d.count, d.lots) for d in a.documents] == [
        ("DN-1", 1_000, 4, 1),
        ("DN-3", 500, 1, 1),
    ]
    assert [(d.number, d.kind, d.mass_g, d.count) for d in b.documents] == [
        ("DN-2", "delivery note", 1_000, 4)
    ]
    assert b.documents[0].dispatched_at in [event.at for event in story.events]
    assert (b.mass_g, b.address) == (1_000, None)
    assert {count.kind: count.lots for count in answer.counts} == Counter(lot.kind for lot in lots)
    assert (answer.purpose, answer.reason, answer.safety_note) == (
        *("live", "laboratory", SAFETY_NOTE),
    )
    assert answer.held_lots == sum(bool(lot.holds) for lot in lots) > 0
    assert [found.kind for found in answer.discrepancies] == ["heavier_than_before"]


def test_a_shop_that_sent_all_back_is_still_told(service: Service, story: Story) -> None:
    """It holds nothing any more, but stands in the drill with the document it was served by."""
    lot = next(
        lot
        for lot in story.portions
        if any(h.holder == "SHOP-B" for h in service.lot(MANAGER, lot, AsOfParams()).holders)
    )
    dairy = Dairy(1)
    dairy.time += timedelta(days=20)
    recorded(service, [dairy.returned(lot, "SHOP-B", 1_000, 4)])
    shops = {shop.customer: shop for shop in _drill(service, story.make_1).customers}
    assert (shops["SHOP-B"].lots, shops["SHOP-B"].mass_g) == (0, 0)
    assert [document.number for document in shops["SHOP-B"].documents] == ["DN-2"]


def test_both_ways_reach_no_siblings(service: Service, story: Story) -> None:
    """From one wheel: its milk and its pieces, but not the other wheels of its vat."""
    answer = _drill(service, story.wheels[0])
    counts = {count.kind: count.lots for count in answer.counts}
    assert (counts["milk"], counts["make"], counts["wheel"]) == (2, 1, 1)
    back = {lot.lot for lot in _trace(service, story.wheels[0], "back")}
    forward = {lot.lot for lot in _trace(service, story.wheels[0], "forward")}
    assert sum(counts.values()) == len(back | forward)


def _trace(service: Service, lot: str, way: Any) -> Any:
    return service.trace(MANAGER, lot, way, TraceParams()).answer().lots


def test_what_is_pending_is_named(service: Service, story: Story) -> None:
    """A portion of a wheel nobody told of: the wheel stands as pending, and is counted so."""
    (orphan,) = (lot.lot for lot in _trace(service, story.untold_wheel, "forward") if lot.steps)
    answer = _drill(service, orphan, direction="back")
    assert answer.pending == [story.untold_wheel]
    assert {count.kind: (count.lots, count.pending) for count in answer.counts} == {
        "wheel": (1, 1),
        "portion": (1, 0),
    }


def test_a_drill_is_kept_as_it_was_answered(service: Service, story: Story) -> None:
    """Read again, also after the record went on, it is the same to the last member."""
    answer = _drill(service, story.milk_a)
    assert (answer.asked_at, answer.asked_by, answer.as_of) == (
        *(NOW, MANAGER.name, service.head()[0]),
    )
    assert answer.took_ms >= 1
    assert service.drill(AUDITOR, answer.id) == answer
    dairy = Dairy(2)
    dairy.time += timedelta(days=30)
    recorded(service, [dairy.event(Weigh, lot=story.wheels[2], mass_g=5_300)])
    assert service.drill(AUDITOR, answer.id) == answer
    other = _drill(service, story.milk_a, id=Dairy(20).id())
    assert other.as_of == answer.as_of + 1
    assert other.stages != answer.stages


def test_the_same_drill_again_is_the_first_one(service: Service, story: Story) -> None:
    """Under its id the same request gives the kept answer, marked; another one is refused."""
    first = _drill(service, story.milk_a)
    again = _drill(service, story.milk_a)
    assert (first.replay, again.replay) == (False, True)
    assert msgspec.structs.replace(again, replay=False) == first
    with pytest.raises(ProblemError) as error:
        _drill(service, story.milk_b)
    assert error.value.problem.code == "id_reused"
    assert len(service.drills(MANAGER, PageParams()).drills) == 1


def test_one_drill_asked_by_many_at_once(service: Service, story: Story) -> None:
    """Sixteen callers with one id: one drill is kept, and all are told the same figures."""
    together = threading.Barrier(16)
    answers: list[DrillAnswer] = []

    def ask() -> None:
        together.wait(60)
        answers.append(_drill(service, story.milk_a))

    threads = [threading.Thread(target=ask) for _ in range(16)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len(answers) == 16
    assert sum(not answer.replay for answer in answers) == 1
    kept = service.drill(MANAGER, answers[0].id)
    assert {repr(msgspec.structs.replace(answer, replay=False)) for answer in answers} == {
        repr(kept)
    }


def test_a_drill_from_a_lot_nobody_mentioned(service: Service, story: Story) -> None:
    """It names the lots that are not there, and nothing is kept."""
    nobodys = Dairy(8).code("trim", "QR")
    with pytest.raises(ProblemError) as error:
        _drill(service, story.milk_a, nobodys)
    assert error.value.problem.code == "not_found"
    assert nobodys in error.value.problem.detail
    assert story.milk_a not in error.value.problem.detail
    assert service.drills(MANAGER, PageParams()).drills == []
    with pytest.raises(ProblemError):
        service.drill(MANAGER, Dairy(9).id())


def test_drills_newest_first_page_by_page(service: Service, story: Story) -> None:
    """Every drill once, the newest first, however small the pages."""
    ids = [Dairy(name).id() for name in range(30, 37)]
    for drill_id in ids:
        _drill(service, story.make_1, id=drill_id)
    seen: list[UUID] = []
    cursor = None
    for _ in range(10):
        page = service.drills(AUDITOR, PageParams(limit=3, cursor=cursor))
        seen += [drill.id for drill in page.drills]
        cursor = page.next_cursor
        if cursor is None:
            break
    # All were asked at one moment, so the id decides.
    assert seen == sorted(ids, reverse=True)
    for wrong in ("MTIz", "YXxi"):
        with pytest.raises(ProblemError) as error:
            service.drills(AUDITOR, PageParams(cursor=wrong))
        assert error.value.problem.code == "bad_cursor"
