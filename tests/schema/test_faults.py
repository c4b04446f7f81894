"""What is wrong with an event by itself: every fault at once, each where it stands."""

from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from uuid import UUID

import msgspec
import pytest

from rindline_schema import events as ev
from rindline_schema import registers as reg
from rindline_schema.events import Event
from rindline_schema.faults import faults_of
from rindline_schema.gs1 import sscc
from rindline_schema.uuid7 import uuid7
from tests.histories.dairy import random_history
from tests.ledger.scene import code

_ID, _OTHER = (uuid7(1_767_600_000_000, bytes([n] * 10)) for n in (1, 2))
_AT = datetime(2026, 1, 5, 8, 0, tzinfo=UTC)
_CASE = sscc(3, "952012", 1)
_DOCUMENT = ev.Document(number="D1")
_MILK, _MAKE, _WHEEL = code("milk"), code("make"), code("wheel")
_PORTION, _TRIM, _BLEND = code("portion"), code("trim"), code("blend")
# The last character of a well-formed code, replaced.
_BAD = _WHEEL[:-1] + ("0" if _WHEEL[-1] != "0" else "1")


def _event(kind: type[Any], **fields: Any) -> Event:
    made: Event = kind(**{"id": _ID, "at": _AT, "site": "QM"} | fields)
    return made


def _pointers(event: Event) -> list[str]:
    return [fault.pointer for fault in faults_of(event)]


def _wheels(*lots: str | None) -> list[ev.NewWheel]:
    return [ev.NewWheel(mass_g=1, lot=lot) for lot in lots]


def _inputs(*lots: str) -> list[ev.Input]:
    return [ev.Input(lot=lot, mass_g=1) for lot in lots]


def _pieces(*lots: str | None) -> list[ev.Piece]:
    return [ev.Piece(product="WEDGE", mass_g=1, lot=lot) for lot in lots]


def _outputs(*lots: str | None) -> list[ev.NewLot]:
    return [ev.NewLot(product="CRUMBLE", mass_g=1, lot=lot) for lot in lots]


def _packed(*lots: str) -> list[ev.Packed]:
    return [ev.Packed(lot=lot, count=1, mass_g=1) for lot in lots]


def _receive(**fields: Any) -> Event:
    return _event(ev.Receive, **{"product": "MILK", "supplier": "HERD", "mass_g": 1} | fields)


def _make(**fields: Any) -> Event:
    said = {"product": "CURD", "vat": "VAT", "inputs": _inputs(_MILK), "lot": _MAKE}
    return _event(ev.Make, **said | fields)


def _hoop(**fields: Any) -> Event:
    said = {"make": _MAKE, "product": "BLUE", "wheels": _wheels(_WHEEL), "room": "R"}
    return _event(ev.Hoop, **said | fields)


def _cut(**fields: Any) -> Event:
    return _event(ev.Cut, **{"lot": _WHEEL, "pieces": _pieces(_PORTION, _TRIM)} | fields)


def _blend(**fields: Any) -> Event:
    said = {"inputs": _inputs(_TRIM, _PORTION), "outputs": _outputs(_BLEND)}
    return _event(ev.Blend, **said | fields)


def _dispatch(**fields: Any) -> Event:
    said = {"lines": [ev.Line(lot=_WHEEL)], "document": _DOCUMENT, "to": "SHOP"}
    return _event(ev.Dispatch, **said | fields)


def _arrive(**fields: Any) -> Event:
    said = {"lines": [ev.Line(lot=_WHEEL)], "document": _DOCUMENT}
    return _event(ev.Arrive, **said | fields)


def _correct(**fields: Any) -> Event:
    return _event(ev.Correct, **{"event": _OTHER, "reason": "mistyped"} | fields)


def _at(*places: tuple[int, int]) -> list[ev.Piece]:
    return [
        ev.Piece(product="WEDGE", mass_g=1, place=ev.Place(from_deg=f, to_deg=t)) for f, t in places
    ]


_TWICE = [_WHEEL, _PORTION, _WHEEL]
_ROWS: list[tuple[str, Event, list[str]]] = [
    ("id is a random UUID", _receive(id=UUID(int=4 << 76 | 2 << 62)), ["/id"]),
    ("before 1970", _receive(at=datetime(1969, 12, 31, 23, 59, tzinfo=UTC)), ["/at"]),
    ("after 2199", _receive(at=datetime(2200, 1, 1, tzinfo=UTC)), ["/at"]),
    ("year 1", _receive(at=datetime(1, 1, 1, tzinfo=timezone(timedelta(hours=14)))), ["/at"]),
    # receive
    ("bad code", _receive(lot=_BAD), ["/lot"]),
    ("a wheel's letter", _receive(lot=_WHEEL), ["/lot"]),
    ("neither mass nor volume", _receive(mass_g=None), [""]),
    ("both mass and volume", _receive(volume_ml=1), [""]),
    # make
    ("bad input code", _make(inputs=_inputs(_MILK, _BAD)), ["/inputs/1/lot"]),
    ("input twice", _make(inputs=_inputs(_MILK, _MILK)), ["/inputs/1/lot"]),
    ("input without amount", _make(inputs=[ev.Input(lot=_MILK)]), ["/inputs/0"]),
    ("input with both", _make(inputs=[ev.Input(lot=_MILK, mass_g=1, volume_ml=1)]), ["/inputs/0"]),
    ("a milk's letter", _make(lot=_MILK, inputs=_inputs(code("milk", 2))), ["/lot"]),
    ("made of itself", _make(inputs=_inputs(_MAKE)), ["/lot"]),
    ("ended before it began", _make(ended_at=_AT - timedelta(seconds=1)), ["/ended_at"]),
    (
        "a reading in 1960",
        _make(readings=[ev.VatReading(at=_AT), ev.VatReading(at=datetime(1960, 1, 1, tzinfo=UTC))]),
        ["/readings/1/at"],
    ),
    # hoop, move, tend, iron, weigh
    ("bad make", _hoop(make=_BAD), ["/make"]),
    ("a make's letter", _hoop(wheels=_wheels(_WHEEL, _MAKE)), ["/wheels/1/lot"]),
    ("a wheel twice", _hoop(wheels=_wheels(_WHEEL, None, None, _WHEEL)), ["/wheels/3/lot"]),
    ("moved twice", _event(ev.Move, lots=_TWICE, room="R"), ["/lots/2"]),
    ("bad code moved", _event(ev.Move, lots=[_BAD], room="R"), ["/lots/0"]),
    ("turned twice", _event(ev.Tend, task="turn", lots=_TWICE), ["/lots/2"]),
    ("holes of turning", _event(ev.Tend, task="turn", lots=[_WHEEL], holes=9), ["/holes"]),
    ("bad code judged", _event(ev.Iron, lot=_BAD), ["/lot"]),
    ("bad code weighed", _event(ev.Weigh, lot=_BAD, mass_g=1), ["/lot"]),
    # cut
    ("bad code cut", _cut(lot=_BAD), ["/lot"]),
    ("a wheel as piece", _cut(pieces=_pieces(code("wheel", 2))), ["/pieces/0/lot"]),
    ("a piece twice", _cut(pieces=_pieces(_PORTION, _PORTION)), ["/pieces/1/lot"]),
    ("cut of itself", _cut(lot=_PORTION), ["/pieces/0/lot"]),
    (
        "places without width",
        _cut(pieces=_at((0, 45), (45, 45), (360, 360), (0, 360), (350, 10))),
        ["/pieces/1/place", "/pieces/2/place"],
    ),
    # blend
    ("blended twice", _blend(inputs=_inputs(_TRIM, _TRIM)), ["/inputs/1/lot"]),
    ("a wheel out", _blend(outputs=_outputs(None, _WHEEL)), ["/outputs/1/lot"]),
    ("an output twice", _blend(outputs=_outputs(_BLEND, _BLEND)), ["/outputs/1/lot"]),
    ("blended of itself", _blend(outputs=_outputs(_BLEND, _TRIM)), ["/outputs/1/lot"]),
    # pack, unpack
    ("bad case", _event(ev.Pack, case="9" * 18, lots=_packed(_WHEEL)), ["/case"]),
    ("packed twice", _event(ev.Pack, case=_CASE, lots=_packed(*_TWICE)), ["/lots/2/lot"]),
    ("bad code out", _event(ev.Unpack, case=_CASE, lots=_packed(_BAD)), ["/lots/0/lot"]),
    # dispatch, arrive
    ("to nobody", _dispatch(to=None), [""]),
    ("to two", _dispatch(to_site="QR"), [""]),
    ("to itself", _dispatch(to=None, to_site="QM"), ["/to_site"]),
    ("a line of nothing", _dispatch(lines=[ev.Line()]), ["/lines/0"]),
    ("a line of two", _dispatch(lines=[ev.Line(lot=_WHEEL, case=_CASE)]), ["/lines/0"]),
    ("bad case sent", _dispatch(lines=[ev.Line(case="9" * 18)]), ["/lines/0/case"]),
    ("half a case", _dispatch(lines=[ev.Line(case=_CASE, count=2)]), ["/lines/0"]),
    ("a lot twice", _dispatch(lines=[ev.Line(lot=lot) for lot in _TWICE]), ["/lines/2/lot"]),
    ("a case twice", _dispatch(lines=[ev.Line(case=_CASE)] * 2), ["/lines/1/case"]),
    ("from nowhere", _arrive(document=None), [""]),
    ("returned under our document", _arrive(returned_by="SHOP"), [""]),
    ("bad code came", _arrive(lines=[ev.Line(lot=_BAD)]), ["/lines/0/lot"]),
    # samples, holds, discards, cleaning
    ("bad code sampled", _event(ev.Sample, lot=_BAD, reference="S"), ["/lot"]),
    ("held twice", _event(ev.Hold, lots=_TWICE, reason="x"), ["/lots/2"]),
    ("released twice", _event(ev.Release, lots=_TWICE, reason="x"), ["/lots/2"]),
    (
        "a hold that is no event",
        _event(ev.Release, lots=[_WHEEL], reason="x", hold=UUID(int=1)),
        ["/hold"],
    ),
    (
        "discarded twice",
        _event(ev.Discard, lots=[ev.Discarded(lot=lot) for lot in _TWICE], reason="x"),
        ["/lots/2/lot"],
    ),
    ("nothing cleaned", _event(ev.Clean, method="x"), [""]),
    ("two cleaned", _event(ev.Clean, method="x", tool="T", room="R"), [""]),
    # declarations
    (
        "a wrong GTIN",
        _event(ev.Declare, entry=reg.Product(code="P", name="p", kind="wheel", gtin="12345673")),
        ["/entry/gtin"],
    ),
    (
        "a site's wrong GLN",
        _event(ev.Declare, entry=reg.Site(code="QM", name="q", gln="1234567890129")),
        ["/entry/gln"],
    ),
    (
        "a partner's wrong GLN",
        _event(
            ev.Declare,
            entry=reg.Partner(code="P", name="p", roles=["customer"], gln="1234567890129"),
        ),
        ["/entry/gln"],
    ),
    (
        "a room whose limits are crossed",
        _event(
            ev.Declare,
            entry=reg.Room(
                code="R", name="r", site="QM", least_c=12, most_c=10, least_humidity_pct=95,
                most_humidity_pct=85,
            ),
        ),
        ["/entry/least_c", "/entry/least_humidity_pct"],
    ),
    # corrections
    ("corrects itself", _correct(event=_ID), ["/event"]),
    ("corrects no event", _correct(event=UUID(int=1)), ["/event"]),
    ("replacement with the correction's id", _correct(replacement=_cut()), ["/replacement/id"]),
    (
        "replacement with the target's id",
        _correct(replacement=_cut(id=_OTHER)),
        ["/replacement/id"],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("event", "pointers"), [pytest.param(*r[1:], id=r[0]) for r in _ROWS])
def test_each_fault_is_found_where_it_stands(event: Event, pointers: list[str]) -> None:
    """One row a fault, with the pointer it has, and no other fault beside it."""
    assert _pointers(event) == pointers
    assert all(fault.detail for fault in faults_of(event))


def test_every_pointer_leads_into_what_was_sent() -> None:
    """Resolved in the event's JSON, each pointer's parent is there, under the names of the wire."""
    for _, event, _ in _ROWS:
        sent = msgspec.to_builtins(event)
        for pointer in _pointers(event):
            place: Any = sent
            for step in pointer.split("/")[1:-1]:
                place = place[int(step)] if isinstance(place, list) else place[step]
            assert isinstance(place, dict | list)


def test_all_faults_come_at_once() -> None:
    """An event with seven things wrong is answered with seven faults, a replacement's included,
    under the pointer it was sent at."""
    inner = _hoop(
        id=UUID(int=0), make=_BAD, wheels=_wheels(_MAKE, _MAKE), at=datetime(1900, 1, 1, tzinfo=UTC)
    )
    event = _correct(id=UUID(int=1), event=_OTHER, replacement=inner)
    assert [fault.pointer for fault in faults_of(event, "/7")] == [
        "/7/id",
        "/7/replacement/id",
        "/7/replacement/at",
        "/7/replacement/make",
        "/7/replacement/wheels/0/lot",
        "/7/replacement/wheels/1/lot",
        "/7/replacement/wheels/1/lot",
    ]


def test_what_is_well_said_has_no_fault() -> None:
    """All events of a random history with every kind in it, and each event the rows start from."""
    history = random_history(12, 500)
    for event in (*history.setup, *history.events):
        assert faults_of(event) == []
    for event in (_receive(), _make(), _hoop(), _cut(), _blend(), _dispatch(), _arrive()):
        assert faults_of(event) == []
    assert faults_of(_correct(replacement=_cut(id=uuid7(0, b"\x03" * 10)))) == []
    assert faults_of(_receive(at=datetime(1970, 1, 1, tzinfo=UTC))) == []
    assert faults_of(_make(ended_at=_AT)) == []
