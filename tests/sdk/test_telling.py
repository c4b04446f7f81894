"""The typed methods for events: every kind, every field, ids and times."""

import asyncio
import collections.abc
import inspect
import typing
from datetime import UTC, datetime
from types import GenericAlias
from typing import Any
from uuid import UUID

import msgspec
import pytest

import rindline_schema.events as told
from rindline import AsyncClient, Client, EventMaker, InvalidInputError
from rindline.testing import FakeClock, FakeServer
from rindline_schema.events import Correct, Event, EventBase, NewWheel, Weigh
from rindline_schema.gs1 import sscc
from rindline_schema.registers import Site
from rindline_schema.uuid7 import uuid7_unix_ms
from tests.sdk.samples import AT, MISTYPED, WHEEL

_KINDS: dict[str, type[EventBase]] = {
    str(kind.__struct_config__.tag): kind for kind in typing.get_args(Event)
}
_COMMON = set(EventBase.__struct_fields__)


def _plain(annotation: Any) -> Any:
    """Take a Sequence for a list: a default may not be a list, which could be changed."""
    if typing.get_origin(annotation) is collections.abc.Sequence:
        return GenericAlias(list, typing.get_args(annotation))
    return annotation


def test_the_kinds_are_seen() -> None:
    """The tests by kind look at all kinds of the contract."""
    assert len(_KINDS) == 23
    assert set(_KINDS.values()) == {
        value
        for name in told.__all__
        if isinstance(value := getattr(told, name), type) and issubclass(value, EventBase)
    } - {EventBase}


@pytest.mark.parametrize("name", sorted(_KINDS))
def test_a_method_has_the_fields_of_its_event(name: str) -> None:
    """Names, types and defaults of each method are those of the struct: they cannot drift."""
    method = getattr(EventMaker, name)
    hints = typing.get_type_hints(method)
    parameters = inspect.signature(method).parameters
    expected = typing.get_type_hints(_KINDS[name])
    assert set(parameters) - {"self", "common"} == set(expected) - _COMMON
    for field in msgspec.structs.fields(_KINDS[name]):
        if field.name in _COMMON:
            continue
        parameter = parameters[field.name]
        assert _plain(hints[field.name]) == expected[field.name], field.name
        assert parameter.kind is inspect.Parameter.KEYWORD_ONLY or name == "declare"
        default = [] if parameter.default == () else parameter.default
        if field.required:
            assert default is inspect.Parameter.empty, field.name
        elif field.default_factory is not msgspec.NODEFAULT:
            assert default == field.default_factory(), field.name
        else:
            assert default == field.default, field.name


@pytest.mark.parametrize("name", sorted(_KINDS))
def test_every_method_makes_its_event(name: str) -> None:
    """Called with sample values, a method gives its own kind with just these values."""
    fields = {
        field.name: _SAMPLES[name, field.name]
        for field in msgspec.structs.fields(_KINDS[name])
        if field.name not in _COMMON and (field.required or (name, field.name) in _SAMPLES)
    }
    made = getattr(EventMaker(FakeClock()), name)(**fields, at=AT, note="seen", override="said")
    assert type(made) is _KINDS[name]
    assert {name: getattr(made, name) for name in fields} == fields
    assert (made.at, made.note, made.override, made.site) == (AT, "seen", "said", None)


_ID = UUID("019c0000-0000-7000-8000-00000000000a")
_OTHER = UUID("019c0000-0000-7000-8000-00000000000b")
_CASE = sscc(0, "9500000", 7)
_SAMPLES: dict[tuple[str, str], Any] = {
    ("receive", "product"): "MILK",
    ("receive", "supplier"): "HERD-1",
    ("receive", "volume_ml"): 400_000,
    ("make", "product"): "CURD",
    ("make", "vat"): "VAT-1",
    ("make", "inputs"): [told.Input(lot=WHEEL, mass_g=1)],
    ("make", "readings"): [told.VatReading(at=AT, ph=6.6)],
    ("hoop", "make"): WHEEL,
    ("hoop", "product"): "QB-WHEEL",
    ("hoop", "wheels"): [NewWheel(mass_g=2400)],
    ("hoop", "room"): "DRAIN",
    ("move", "lots"): [WHEEL],
    ("move", "room"): "CAVE-1",
    ("tend", "task"): "pierce",
    ("tend", "lots"): [WHEEL],
    ("tend", "holes"): 300,
    ("iron", "lot"): WHEEL,
    ("iron", "blueing"): 7,
    ("weigh", "lot"): WHEEL,
    ("weigh", "mass_g"): 2350,
    ("cut", "lot"): WHEEL,
    ("cut", "pieces"): [told.Piece(product="QB-WEDGE", mass_g=250, count=4)],
    ("blend", "inputs"): [told.Input(lot=WHEEL, mass_g=100)],
    ("blend", "outputs"): [told.NewLot(product="CRUMBLE", mass_g=100)],
    ("pack", "case"): _CASE,
    ("pack", "lots"): [told.Packed(lot=WHEEL, count=1, mass_g=2350)],
    ("unpack", "case"): _CASE,
    ("unpack", "lots"): [told.Packed(lot=WHEEL, count=1, mass_g=2350)],
    ("dispatch", "lines"): [told.Line(lot=WHEEL)],
    ("dispatch", "document"): told.Document(number="DN-1"),
    ("dispatch", "to"): "SHOP-1",
    ("arrive", "lines"): [told.Line(lot=WHEEL)],
    ("arrive", "returned_by"): "SHOP-1",
    ("sample", "lot"): WHEEL,
    ("sample", "reference"): "S-1",
    ("result", "sample"): "S-1",
    ("result", "test"): "Listeria monocytogenes in 25 g",
    ("result", "verdict"): "passed",
    ("hold", "lots"): [WHEEL],
    ("hold", "reason"): "to be looked at",
    ("release", "lots"): [WHEEL],
    ("release", "reason"): "looked at",
    ("discard", "lots"): [told.Discarded(lot=WHEEL)],
    ("discard", "reason"): "fell down",
    ("clean", "method"): "hot water",
    ("clean", "tool"): "NEEDLES-1",
    ("label", "kind"): "wheel",
    ("label", "lot"): WHEEL,
    ("label", "reason"): "smudged",
    ("declare", "entry"): Site(code="QM", name="Dairy"),
    ("settle", "discrepancy"): "0" * 24,
    ("settle", "finding"): "the scale was wrong",
    ("correct", "event"): _ID,
    ("correct", "reason"): "wrong wheel",
    ("correct", "replacement"): Weigh(id=_OTHER, at=AT, lot=WHEEL, mass_g=2340),
}


def test_id_and_time_are_made_if_left_out() -> None:
    """An event without id and time gets a UUIDv7 of now, and now; each gets its own id."""
    make = EventMaker(FakeClock(datetime(2026, 2, 3, tzinfo=UTC)))
    first = make.weigh(lot=WHEEL, mass_g=1)
    second = make.weigh(lot=WHEEL, mass_g=1)
    assert first.at == datetime(2026, 2, 3, tzinfo=UTC)
    assert uuid7_unix_ms(first.id) == first.at.timestamp() * 1000
    assert first.id != second.id


def test_the_machines_clock_tells_its_offset() -> None:
    """Without a clock given, the time is aware and the ids differ."""
    make = EventMaker()
    first, second = (make.weigh(lot=WHEEL, mass_g=1) for _ in range(2))
    assert first.at.tzinfo is not None
    assert first.id != second.id


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"lot": "WHEEL", "mass_g": 1}, r"\$\.lot"),
        ({"lot": WHEEL, "mass_g": -1}, r"\$\.mass_g"),
        ({"lot": WHEEL, "mass_g": 2.5}, r"\$\.mass_g"),
        ({"lot": WHEEL, "mass_g": 1, "at": datetime(2026, 2, 3)}, r"\$\.at"),  # noqa: DTZ001
        ({"lot": WHEEL, "mass_g": 1, "note": ""}, r"\$\.note"),
        ({"lot": MISTYPED, "mass_g": 1}, r"/lot: .*check character"),
    ],
)
def test_what_the_schema_forbids_is_not_sent(fields: dict[str, Any], said: str) -> None:
    """A malformed field is an error here, with its place; the server never sees it."""
    server = FakeServer()
    with Client(transport=server) as client, pytest.raises(InvalidInputError, match=said):
        client.weigh(**fields)
    assert server.requests == []


def test_a_number_that_is_none_is_not_sent() -> None:
    """NaN would be written as null and so be lost without a word."""
    with pytest.raises(InvalidInputError):
        EventMaker().receive(
            product="MILK", supplier="HERD-1", mass_g=1, temperature_c=float("nan")
        )


def test_both_clients_tell_by_the_same_methods() -> None:
    """The same call, awaited or not, is told and answered alike."""
    server = FakeServer()
    with Client(transport=server, clock=FakeClock()) as client:
        first = client.weigh(lot=WHEEL, mass_g=2350, id=_ID, at=AT)

    async def again() -> bool:
        async with AsyncClient(transport=server, clock=FakeClock()) as client:
            second = await client.weigh(lot=WHEEL, mass_g=2350, id=_ID, at=AT)
            correction = await client.correct(event=_ID, reason="wrong wheel")
        return second.replay and second.seq == first.seq and correction.seq == 2

    assert asyncio.run(again())
    assert [type(recorded.event) for recorded in server.told] == [Weigh, Correct]
