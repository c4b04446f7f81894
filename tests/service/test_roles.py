"""Who may tell what, and what a caller may not see looks like what is not there."""

import pytest

from rindline_schema.answers import Refused
from rindline_schema.events import Correct, Event, Hold, Release, Settle, Weigh
from rindline_schema.params import AsOfParams
from rindline_server.service import Caller, ProblemError, Service
from tests.service.callers import (
    MANAGER,
    SHOP_A,
    SHOP_B,
    STATION,
    recorded,
    refused,
    tell,
)
from tests.service.dairy import Dairy
from tests.service.story import Story

_OTHER_STATION = Caller(
    key="rindline_00000006", name="other scale", role="station", site="QR", expires_at=None
)


@pytest.fixture
def dairy(service: Service) -> Dairy:
    dairy = Dairy()
    recorded(service, dairy.declared())
    return dairy


def test_a_station_tells_events_of_its_own_site(service: Service, dairy: Dairy) -> None:
    """Of another site it is refused, also inside a batch; a manager tells of any site."""
    head = service.head()[0]
    own, other = dairy.milk(100), dairy.event(Weigh, lot=dairy.code("wheel"), mass_g=1, site="QR")
    outcomes = tell(service, [own, other], STATION)
    assert isinstance(outcomes[1], Refused)
    assert outcomes[1].problem.code == "not_your_site"
    assert service.head()[0] == head + 1
    recorded(service, [other])


def test_a_station_leaves_its_site_out(service: Service, dairy: Dairy) -> None:
    """The key says where it stands; a manager, who stands nowhere, must name a site."""
    weigh = dairy.event(Weigh, lot=dairy.code("wheel"), mass_g=1, site=None)
    assert refused(service, weigh).problem.code == "not_valid"
    recorded(service, [weigh], STATION)
    assert service.event(MANAGER, weigh.id).event.site == "QM"


@pytest.mark.parametrize("kind", ["correct", "declare", "release", "settle"])
def test_some_events_are_a_managers(service: Service, dairy: Dairy, kind: str) -> None:
    """A station can neither change the registers, nor correct, release or settle anything."""
    milk = dairy.milk(100)
    recorded(service, [milk, dairy.event(Hold, lots=[milk.lot], reason="smells")], STATION)
    events: dict[str, Event] = {
        "correct": dairy.event(Correct, event=milk.id, reason="was never here"),
        "declare": dairy.declared()[0],
        "release": dairy.event(Release, lots=[milk.lot], reason="tested"),
        "settle": dairy.event(Settle, discrepancy="0" * 24, finding="nothing"),
    }
    event = events[kind]
    head = service.head()
    assert refused(service, event, STATION).problem.code == "forbidden"
    assert service.head() == head
    if kind != "settle":
        recorded(service, [event])


def test_an_event_of_another_site_is_not_there(service: Service, dairy: Dairy) -> None:
    """A station reads its own site's events; others answer exactly as an id nobody told."""
    milk = dairy.milk(100)
    recorded(service, [milk], STATION)
    assert service.event(STATION, milk.id).event == milk
    nobodys = dairy.id()
    problems = []
    for event_id in (milk.id, nobodys):
        with pytest.raises(ProblemError) as error:
            service.event(_OTHER_STATION, event_id)
        problems.append(error.value.problem)
    assert str(problems[0]).replace(str(milk.id), "X") == str(problems[1]).replace(
        str(nobodys), "X"
    )


def test_a_customer_sees_what_was_sent_to_it(service: Service) -> None:
    """Lots sent to SHOP-A answer it; all others answer as a lot that nobody ever mentioned."""
    story = Story.of(Dairy())
    recorded(service, story.events)
    whole = {lot: service.lot(MANAGER, lot, AsOfParams()) for lot in story.lots}
    sent = {
        lot
        for lot, answer in whole.items()
        if any(h.where == "partner" and h.holder == "SHOP-A" for h in answer.holders)
    }
    assert len(sent) == 2
    nobodys = Dairy(7).code("portion", "QR")
    with pytest.raises(ProblemError) as error:
        service.lot(SHOP_A, nobodys, AsOfParams())
    missing = str(error.value.problem)
    for lot in story.lots:
        if lot in sent:
            assert service.lot(SHOP_A, lot, AsOfParams()).lot == lot
            assert service.origin(SHOP_A, lot) == service.origin(MANAGER, lot)
            continue
        for ask in (
            lambda lot=lot: service.lot(SHOP_A, lot, AsOfParams()),
            lambda lot=lot: service.origin(SHOP_A, lot),
            lambda lot=lot: service.lot(SHOP_A, lot, AsOfParams(as_of=1)),
        ):
            with pytest.raises(ProblemError) as error:
                ask()
            assert str(error.value.problem) == missing.replace(nobodys, lot)


def test_a_customer_sees_no_other_customer(service: Service) -> None:
    """Of a lot both shops bought each sees its own holding, and neither our losses nor rooms."""
    story = Story.of(Dairy())
    recorded(service, story.events)
    shared = [
        lot
        for lot in story.portions
        if {"SHOP-A", "SHOP-B"}
        <= {h.holder for h in service.lot(MANAGER, lot, AsOfParams()).holders}
    ]
    assert len(shared) == 1
    for caller, mass_g in ((SHOP_A, 750), (SHOP_B, 1_000)):
        answer = service.lot(caller, shared[0], AsOfParams())
        assert [(h.where, h.holder, h.mass_g) for h in answer.holders] == [
            ("partner", caller.partner, mass_g)
        ]
        assert answer.losses == type(answer.losses)()
        assert answer.discrepancies == []


def test_what_was_sent_back_stays_visible(service: Service) -> None:
    """A customer that returned all of a lot still sees it: it had it in its hands."""
    story = Story.of(Dairy())
    recorded(service, story.events)
    lot = next(
        lot
        for lot in story.portions
        if any(h.holder == "SHOP-B" for h in service.lot(MANAGER, lot, AsOfParams()).holders)
    )
    dairy = Dairy(1)
    dairy.time = dairy.time.replace(month=4)
    recorded(service, [dairy.returned(lot, "SHOP-B", 1_000, 4)])
    assert service.lot(SHOP_B, lot, AsOfParams()).holders == []
