"""What is wrong with an event by itself is refused before the record is looked at."""

from rindline_schema.events import Arrive, Document, Line, Move
from rindline_server.service import Service
from tests.service.callers import recorded, refused
from tests.service.dairy import Dairy


def test_every_fault_of_an_event_is_told_at_once(service: Service) -> None:
    """A mistyped code and a line without goods: two faults, each with its pointer."""
    dairy = Dairy()
    recorded(service, dairy.declared())
    mistyped = dairy.code("wheel")[:-2] + "00"
    event = dairy.event(
        Arrive,
        document=Document(number="DN-1"),
        lines=[Line(lot=mistyped), Line()],
    )
    problem = refused(service, event).problem
    assert problem.code == "not_valid"
    assert {fault.pointer for fault in problem.faults} == {"/lines/0/lot", "/lines/1"}


def test_a_mistyped_code_never_becomes_a_pending_lot(service: Service) -> None:
    """Its check character fails, so nothing is recorded under it."""
    dairy = Dairy()
    recorded(service, dairy.declared())
    head = service.head()
    code = dairy.code("wheel")
    swapped = code[:-3] + code[-2] + code[-3] + code[-1]
    if swapped == code:
        swapped = code[:-1] + ("A" if code[-1] != "A" else "B")
    assert refused(service, dairy.event(Move, lots=[swapped], room="R1")).problem.faults
    assert service.head() == head
