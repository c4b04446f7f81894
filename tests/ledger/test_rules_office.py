"""Registers, findings, sites, clocks and codes: what holds for every event."""

from datetime import datetime, timedelta, timezone
from typing import Any

import pytest

from rindline_schema import events as ev
from rindline_schema import registers as reg
from rindline_server.ledger.discrepancies import discrepancy_id
from rindline_server.ledger.times import from_us
from tests.ledger.scene import Scene, code, event_id


def test_an_event_names_a_declared_site() -> None:
    """None at all, or one that is unknown."""
    scene = Scene()
    assert scene.refused(ev.Clean, 10, site=None, method="x", tool="WIRE").code == "not_valid"
    assert scene.refused(ev.Clean, 10, site="XX", method="x", tool="WIRE").code == "not_declared"


def test_what_has_not_come_yet_is_refused() -> None:
    """Five minutes ahead of the server's clock are let pass, a microsecond more is not; the past
    has no limit. Five minutes: this project's own events.md."""
    scene = Scene()
    edge = from_us(scene.now.now_us + 5 * 60 * 1_000_000)
    event = scene.build(ev.Clean, 0, method="boiled", tool="WIRE")
    late = ev.Clean(id=event.id, at=edge, site="QM", method="boiled", tool="WIRE")
    scene.say(late)
    after = from_us(scene.now.now_us + 5 * 60 * 1_000_000 + 1)
    too_late = ev.Clean(id=event.id, at=after, site="QM", method="boiled", tool="WIRE")
    assert scene.refusal_of(too_late).code == "ahead_of_clock"
    correct = scene.build(ev.Correct, 10, event=event.id, reason="mistyped", replacement=too_late)
    assert scene.refusal_of(correct).code == "ahead_of_clock"


@pytest.mark.parametrize(
    ("entry", "expected"),
    [
        (reg.Room(code="QX", name="x", site="XX"), "not_declared"),
        (reg.Tool(code="QX", name="x", kind="wire", site="XX"), "not_declared"),
        (reg.Sensor(code="QX", name="x", room="NONE"), "not_declared"),
        (reg.Product(code="BLUE", name="x", kind="portion"), "nature_changed"),
        (reg.Room(code="QM-WARM", name="x", site="QC"), "nature_changed"),
        (reg.Tool(code="WIRE", name="x", kind="vat"), "nature_changed"),
    ],
)
def test_an_entry_in_use_does_not_change_its_nature(
    entry: reg.RegisterEntry, expected: str
) -> None:
    """A room needs its site, a sensor its room; a product that wheels bear stays a wheel, a room
    they stood in stays where it is, and a tool stays what it is."""
    scene = Scene()
    scene.wheel()
    assert scene.refused(ev.Declare, 60, entry=entry).code == expected


def test_what_is_not_in_use_may_change() -> None:
    """A product no lot bears and a room nothing stood in; and the name of anything, any time."""
    scene = Scene()
    scene.wheel()
    scene.tell(ev.Declare, 60, entry=reg.Product(code="HALF", name="x", kind="trim"))
    scene.tell(ev.Declare, 60, entry=reg.Room(code="QR-3", name="x", site="QC"))
    scene.tell(ev.Declare, 60, entry=reg.Product(code="BLUE", name="New name", kind="wheel"))
    versions = scene.world.registers["product", "BLUE"]
    assert [version.entry.name for version in versions] == ["BLUE", "New name"]


def test_a_register_is_read_as_of_the_event() -> None:
    """A supplier only since 100: before that the first declaration counts."""
    scene = Scene()
    entry = reg.Partner(code="SHOP-1", name="shop", roles=["supplier", "customer"])
    scene.tell(ev.Declare, 100, entry=entry)
    said = {"product": "MILK", "supplier": "SHOP-1", "mass_g": 1_000}
    problem = scene.refused(ev.Receive, 99, lot=code("milk"), **said)
    assert problem.code == "wrong_kind"
    scene.tell(ev.Receive, 100, lot=code("milk"), **said)


def test_a_declaration_in_use_is_not_taken_back() -> None:
    """The only declaration of a product that a lot bears stays, as does that of a site or partner
    that entries name; with another in its place it goes; one not in use goes at once."""
    scene = Scene()
    scene.milk()
    declared = {
        event.entry.code: event
        for event in scene.world.recorded.values()
        if isinstance(event, ev.Declare)
    }
    for name in ("MILK", "HERD-1", "QM"):
        problem = scene.refused(ev.Correct, 60, event=declared[name].id, reason="mistyped")
        assert problem.code == "nature_changed"
    scene.tell(ev.Correct, 60, event=declared["CRUMBLE"].id, reason="mistyped")
    assert ("product", "CRUMBLE") not in scene.world.registers
    entry = reg.Product(code="MILK", name="Cow's milk", kind="milk")
    instead = scene.build(ev.Declare, 0, entry=entry)
    scene.tell(ev.Correct, 60, event=declared["MILK"].id, reason="mistyped", replacement=instead)
    assert [v.entry.name for v in scene.world.registers["product", "MILK"]] == ["Cow's milk"]


def test_only_what_is_open_is_settled() -> None:
    """A finding needs an open discrepancy; it is kept beside it and voided like any event."""
    scene = Scene()
    wheel = scene.wheel()
    scene.tell(ev.Weigh, 60, lot=wheel, mass_g=12_000)
    name = discrepancy_id(wheel, scene.record(wheel).found[0])
    assert len(name) == 24
    problem = scene.refused(ev.Settle, 70, discrepancy="0" * 24, finding="none")
    assert problem.code == "no_such_discrepancy"
    settle = scene.tell(ev.Settle, 70, discrepancy=name, finding="foot of the scale")
    assert scene.world.new_findings == [(name, str(settle.id), "foot of the scale")]
    scene.tell(ev.Correct, 80, event=settle.id, reason="another wheel was meant")
    assert scene.world.void_findings == [(name, str(settle.id))]


def test_codes_are_given_and_never_twice() -> None:
    """A lot without a code gets the next one of its prefix, after all that were ever named: told,
    pending, or in an event that was corrected before it arrived."""
    scene = Scene()
    said: dict[str, Any] = {"product": "MILK", "supplier": "HERD-1", "mass_g": 1_000}

    def given(minutes: int) -> str:
        recorded = scene.say(scene.build(ev.Receive, minutes, **said))
        assert [one.pointer for one in recorded.given] == ["/lot"]
        assert isinstance(recorded.event, ev.Receive)
        assert recorded.event.lot == recorded.given[0].lot
        return recorded.given[0].lot

    assert given(10) == code("milk", 1)
    scene.tell(ev.Receive, 10, lot=code("milk", 5), **said)
    assert given(10) == code("milk", 6)
    scene.tell(ev.Hold, 10, lots=[code("milk", 8)], reason="asked for")
    assert given(10) == code("milk", 9)
    void = scene.build(ev.Receive, 10, lot=code("milk", 12), **said)
    scene.tell(ev.Correct, 20, event=void.id, reason="never came")
    scene.say(void)
    assert not scene.record(code("milk", 12)).is_born
    assert given(10) == code("milk", 13)


def test_a_code_named_in_the_event_is_not_given_in_it() -> None:
    """Of two wheels one has been stamped with the first code: the other gets the second."""
    scene = Scene()
    make = scene.vat()
    wheels = [ev.NewWheel(mass_g=9_000), ev.NewWheel(mass_g=9_000, lot=code("wheel", 1))]
    event = scene.build(ev.Hoop, 30, make=make, product="BLUE", wheels=wheels, room="QM-WARM")
    assert [one.lot for one in scene.say(event).given] == [code("wheel", 2)]


def test_given_codes_carry_the_day_where_the_event_happened() -> None:
    """Half past midnight two hours east of Greenwich is a new day there."""
    scene = Scene()
    midnight = datetime(2026, 1, 6, 0, 30, tzinfo=timezone(timedelta(hours=2)))
    said: dict[str, Any] = {"product": "MILK", "supplier": "HERD-1", "mass_g": 1_000}
    event = ev.Receive(id=event_id(1), at=midnight, site="QM", **said)
    assert scene.say(event).given[0].lot.startswith("QM26006M")
