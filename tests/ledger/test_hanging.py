"""Where sensors hang and which limits hold, as versions of register entries say."""

from collections.abc import Sequence
from typing import Any

from rindline_schema.registers import RegisterEntry, Room, Sensor
from rindline_server.calc.air import NO_LIMITS, Limits
from rindline_server.ledger.hanging import (
    FIRST_US,
    LAST_US,
    hangings,
    hangings_of,
    limits_of,
    stays,
)
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.world import Registers, Version


def _registers(*declared: tuple[int, RegisterEntry]) -> Registers:
    found: dict[tuple[str, str], tuple[Version, ...]] = {}
    for number, (at_us, entry) in enumerate(declared):
        key = (type(entry).__name__.lower(), entry.code)
        version = Version(at_us, f"event-{number}", entry)
        found[key] = tuple(
            sorted((*found.get(key, ()), version), key=lambda one: (one.at_us, one.event))
        )
    return found


def _sensor(room: str, code: str = "S-1", **offsets: float) -> Sensor:
    return Sensor(code=code, name="Sensor", room=room, **offsets)


def _room(**limits: Any) -> Room:
    return Room(code="CAVE", name="Cave", site="QM", **limits)


def test_the_first_declaration_holds_for_all_time_before() -> None:
    """A sensor declared once hangs where it was declared from before all time until after it."""
    registers = _registers((1000, _sensor("CAVE", offset_c=0.5, offset_humidity_pct=-2)))
    assert hangings(registers, "CAVE") == [
        ("S-1", "CAVE", FIRST_US, LAST_US, 0.5, -2, "event-0"),
    ]
    assert hangings(registers, "STORE") == []
    assert hangings_of(registers, "S-2") == []


def test_a_moved_sensor_ends_here_and_begins_there() -> None:
    """A sensor moved away and back has two times in the first room and one in the other."""
    registers = _registers(
        (1000, _sensor("CAVE")), (2000, _sensor("STORE")), (3000, _sensor("CAVE"))
    )
    assert [one[2:4] for one in hangings(registers, "CAVE")] == [(FIRST_US, 2000), (3000, LAST_US)]
    assert [one[2:4] for one in hangings(registers, "STORE")] == [(2000, 3000)]
    assert [one.room for one in hangings_of(registers, "S-1")] == ["CAVE", "STORE", "CAVE"]


def test_another_offset_begins_a_new_span_and_another_name_does_not() -> None:
    """Spans change with room and offsets only; each names the declaration that began it."""
    renamed = Sensor(code="S-1", name="By the door", room="CAVE", offset_c=0.4)
    registers = _registers(
        (1000, _sensor("CAVE")), (2000, _sensor("CAVE", offset_c=0.4)), (3000, renamed)
    )
    spans = [
        (one.from_us, one.until_us, one.offset_c, one.event)
        for one in hangings_of(registers, "S-1")
    ]
    assert spans == [(FIRST_US, 2000, 0.0, "event-0"), (2000, LAST_US, 0.4, "event-1")]


def test_stays_join_what_follows_on_one_another_in_one_room() -> None:
    """A stay goes on through another offset, ends with a move, and is of one sensor only."""
    registers = _registers(
        (1000, _sensor("CAVE")),
        (2000, _sensor("CAVE", offset_c=0.4)),
        (3000, _sensor("STORE", offset_c=0.4)),
        (4000, _sensor("CAVE", offset_c=0.4)),
        (1000, _sensor("CAVE", code="S-2")),
    )
    found = stays(hangings(registers, "CAVE"))
    assert [[one[:1] + one[2:4] for one in stay] for stay in found] == [
        [("S-1", FIRST_US, 2000), ("S-1", 2000, 3000)],
        [("S-1", 4000, LAST_US)],
        [("S-2", FIRST_US, LAST_US)],
    ]


def test_of_two_declarations_for_one_time_the_last_counts() -> None:
    """Two declarations for the same moment: the one that entry_at gives is the one that holds."""
    registers = _registers(
        (1000, _sensor("CAVE")), (2000, _sensor("STORE")), (2000, _sensor("DAIRY"))
    )
    assert [one.room for one in hangings_of(registers, "S-1")] == ["CAVE", "DAIRY"]
    entry = entry_at(registers, "sensor", "S-1", 2000)
    assert isinstance(entry, Sensor)
    assert entry.room == "DAIRY"


def test_limits_by_time() -> None:
    """Limits hold from their declaration on, the first for all time before as well."""
    registers = _registers(
        (1000, _room(least_c=8, most_c=12)),
        (2000, _room(least_c=8, most_c=12, most_humidity_pct=95)),
        (3000, _room()),
    )
    assert limits_of(registers, "CAVE") == [
        (FIRST_US, 2000, Limits(8, 12, None, None)),
        (2000, 3000, Limits(8, 12, None, 95)),
        (3000, LAST_US, NO_LIMITS),
    ]


def test_a_room_never_declared_has_no_limits() -> None:
    """Without a declaration one span without limits covers all time."""
    assert limits_of({}, "CAVE") == [(FIRST_US, LAST_US, NO_LIMITS)]


def test_spans_agree_with_the_lookup_of_entries() -> None:
    """At every moment the span of a sensor names the room that entry_at gives."""
    rooms: Sequence[str] = ("CAVE", "STORE", "CAVE", "CAVE", "DAIRY")
    registers = _registers(*((1000 * (n + 1), _sensor(room)) for n, room in enumerate(rooms)))
    spans = hangings_of(registers, "S-1")
    for at_us in range(0, 7000, 250):
        (here,) = [one for one in spans if one.from_us <= at_us < one.until_us]
        entry = entry_at(registers, "sensor", "S-1", at_us)
        assert isinstance(entry, Sensor)
        assert here.room == entry.room
