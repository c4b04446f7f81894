"""Discrepancies: opened by what does not fit, gone when it does, settled by a person."""

import pytest

from rindline_schema.answers import Discrepancy
from rindline_schema.events import Arrive, Correct, Dispatch, Document, Line, Settle, Weigh
from rindline_schema.params import AsOfParams, DiscrepancyParams
from rindline_server.service import Service
from tests.service.callers import MANAGER, recorded, refused
from tests.service.dairy import Dairy


def _shown(service: Service, show: str = "open", lot: str | None = None) -> list[Discrepancy]:
    assert show in ("open", "settled", "all")
    params = DiscrepancyParams(show=show, lot=lot)  # type: ignore[arg-type]  # just asserted
    return service.discrepancies(MANAGER, params).discrepancies


@pytest.fixture
def dairy(service: Service) -> Dairy:
    dairy = Dairy()
    recorded(service, dairy.declared())
    return dairy


def test_a_discrepancy_is_open_until_settled(service: Service, dairy: Dairy) -> None:
    """A wheel heavier than before is open; settled it moves lists and keeps what was found."""
    events, (wheel, other) = dairy.wheels(2)
    heavy = dairy.event(Weigh, lot=wheel, mass_g=4_100)
    (told,) = recorded(service, [*events, heavy])[-1:]
    assert [warning.code for warning in told.warnings] == ["heavier_than_before"]
    (found,) = _shown(service)
    assert (found.kind, found.lot, found.grams, found.event_id, found.settled) == (
        *("heavier_than_before", wheel, 100, str(heavy.id), False),
    )
    assert _shown(service, lot=other) == []
    assert service.lot(MANAGER, wheel, AsOfParams()).discrepancies == [found]
    settle = dairy.event(Settle, discrepancy=found.discrepancy, finding="scale was not tared")
    recorded(service, [settle])
    assert _shown(service) == []
    (settled,) = _shown(service, "settled")
    assert (settled.settled, settled.finding) == (True, "scale was not tared")
    assert _shown(service, "all") == [settled]
    recorded(service, [dairy.event(Correct, event=settle.id, reason="it was tared")])
    assert _shown(service) == [found]


def test_what_does_not_exist_can_not_be_settled(service: Service, dairy: Dairy) -> None:
    """A finding needs an open discrepancy."""
    idle = dairy.event(Settle, discrepancy="0123456789abcdef01234567", finding="nothing")
    assert refused(service, idle).problem.code == "no_such_discrepancy"


def test_a_discrepancy_goes_when_the_missing_fact_comes(service: Service, dairy: Dairy) -> None:
    """An arrival whose dispatch is untold is one; told late, the dispatch explains it."""
    events, (wheel,) = dairy.wheels(1)
    document = Document(number="T-1")
    lines = [Line(lot=wheel, count=1, mass_g=4_000)]
    dispatch = dairy.event(Dispatch, lines=lines, document=document, to_site="QR")
    arrive = dairy.event(Arrive, lines=lines, document=document, room="STORE", site="QR")
    recorded(service, [*events, arrive])
    assert [found.kind for found in _shown(service)] == ["dispatch_not_told"]
    recorded(service, [dispatch])
    assert _shown(service, "all") == []


def test_discrepancies_page_by_page(service: Service, dairy: Dairy) -> None:
    """Each once, however small the pages."""
    events, wheels = dairy.wheels(7)
    weighs = [dairy.event(Weigh, lot=wheel, mass_g=4_500) for wheel in wheels]
    recorded(service, [*events, *weighs])
    lots, cursor = [], None
    for _ in range(20):
        params = DiscrepancyParams(limit=2, cursor=cursor)
        page = service.discrepancies(MANAGER, params)
        lots += [found.lot for found in page.discrepancies]
        cursor = page.next_cursor
        if cursor is None:
            break
    assert sorted(lots) == sorted(wheels)
