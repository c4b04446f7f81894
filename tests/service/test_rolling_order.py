"""Whatever order readings and declarations are told in, hours and doubts come out the same.

The figures are compared with those worked out of all the readings at once; that these are right
is shown elsewhere.
"""

import itertools
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, Literal, NamedTuple

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from rindline_schema.answers import Reading, Told
from rindline_schema.events import Correct, Declare, Event
from rindline_schema.registers import Room, Sensor, Site
from rindline_server.calc.air import HOUR_US, AirRule, Tally, doubts, sample_of
from rindline_server.ledger.apply import Context
from rindline_server.ledger.times import to_us
from rindline_server.service.air.doubts import sensor_doubts
from rindline_server.service.air.hours import DAY_HOURS, hours_over, roll_days, roll_hours
from rindline_server.service.air.readings import tell_readings
from rindline_server.service.air.rolling import Roller
from rindline_server.service.telling import Unit, tell_units
from rindline_server.store import DoubtRow, ReadTransaction, Store
from tests.service.callers import MANAGER
from tests.service.dairy import NOW, Dairy

_RULE = AirRule()
_BEGIN = datetime(2026, 3, 10, tzinfo=UTC)
_LONG_BEFORE = datetime(2025, 1, 1, tzinfo=UTC)
_FIRST_HOUR = to_us(_BEGIN) // HOUR_US - 12
_BEHIND_HOUR = _FIRST_HOUR + 24 * 6
_LAST_MINUTE = 12 * 60
_ALL = -(2**62), 2**62

_DAIRY = Dairy()
_NUMBERS = itertools.count(1)


class _Step(NamedTuple):
    """Something told, or ``rolls`` pieces rolled up; names end with the example's number."""

    what: Literal["read", "declare", "void", "roll"]
    readings: tuple[tuple[int, int, float | None, float | None], ...] = ()
    entry: tuple[int, str, int, float] = (0, "", 0, 0.0)
    number: int = 0


_MINUTES = st.integers(0, _LAST_MINUTE)
_SHOWN = st.tuples(
    st.sampled_from([None, 9.0, 10.5, 12.25, 30.0]), st.sampled_from([None, 88.0, 96.5])
).filter(any)
_PAUSES = st.sampled_from([5, 14, 40, 90, 91, 170])


@st.composite
def _reads(draw: st.DrawFn) -> _Step:
    """Readings of one sensor some time apart, and then of any, in any order."""
    sensor, minute = draw(st.integers(0, 1)), draw(_MINUTES)
    readings = []
    for pause, shown in draw(st.lists(st.tuples(_PAUSES, _SHOWN), min_size=1, max_size=12)):
        readings.append((sensor, minute, *shown))
        minute += pause
    return _Step("read", readings=tuple(draw(st.permutations(readings))))


_READ = _reads()
_HUNG = st.tuples(
    st.integers(0, 1), st.sampled_from(["room 0", "room 1"]), _MINUTES, st.sampled_from([0.0, 0.5])
)
_LIMITED = st.tuples(st.integers(0, 1), st.just("limits"), _MINUTES, st.sampled_from([10.0, 11.0]))
_DECLARE = (_HUNG | _LIMITED).map(lambda entry: _Step("declare", entry=entry))
_VOID = st.integers(0, 2).map(lambda number: _Step("void", number=number))
_ROLL = st.integers(1, 12).map(lambda number: _Step("roll", number=number))
_STEPS = st.lists(
    st.tuples(st.one_of(_READ, _READ, _DECLARE, _DECLARE, _VOID), st.none() | _ROLL),
    min_size=2,
    max_size=9,
).map(lambda pairs: [step for pair in pairs for step in pair if step is not None])


class _Example:
    """Two rooms and two sensors of their own on the one record."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.number = next(_NUMBERS)
        self.rooms = [f"R{place}-{self.number}" for place in (0, 1)]
        self.sensors = [f"S{place}-{self.number}" for place in (0, 1)]
        self.declared: list[Declare] = []
        self.roller = Roller(store, _RULE)
        self._told: dict[tuple[int, int], Reading] = {}
        self._tell(
            [
                self._event(Declare, entry=Site(code="QM", name="Quillmere")),
                *(self._event(Declare, entry=self._room(room, 11.0)) for room in (0, 1)),
                *(self._event(Declare, entry=self._sensor(one, one, 0.0)) for one in (0, 1)),
            ]
        )

    def take(self, step: _Step) -> None:
        """Tell what a step says, or roll up."""
        if step.what == "read":
            self.read([self._reading(*reading) for reading in step.readings])
        elif step.what == "declare":
            place, what, minute, value = step.entry
            entry = (
                self._room(place, value)
                if what == "limits"
                else self._sensor(place, int(what[-1]), value)
            )
            at = _BEGIN + timedelta(minutes=minute)
            self.declared.append(self._event(Declare, at=at, entry=entry))
            self._tell([self.declared[-1]])
        elif step.what == "void":
            if step.number < len(self.declared):
                gone = self.declared.pop(step.number)
                self._tell([self._event(Correct, at=NOW, event=gone.id, reason="wrong")])
        else:
            for _ in range(step.number):
                self.roller.work()

    def read(self, readings: Sequence[Reading]) -> None:
        """Tell readings; those told before are told again."""
        answer = tell_readings(self.store, MANAGER, readings, _RULE, NOW)
        assert answer.refused == []

    def _reading(self, place: int, minute: int, c: float | None, pct: float | None) -> Reading:
        # Of one sensor and time the values are always those of the first.
        return self._told.setdefault(
            (place, minute),
            Reading(
                sensor=self.sensors[place],
                at=_BEGIN + timedelta(minutes=minute),
                temperature_c=c,
                humidity_pct=pct,
            ),
        )

    def _room(self, place: int, most_c: float) -> Room:
        return Room(code=self.rooms[place], name="Room", site="QM", most_c=most_c)

    def _sensor(self, place: int, room: int, offset_c: float) -> Sensor:
        code = self.sensors[place]
        return Sensor(code=code, name="Air", room=self.rooms[room], offset_c=offset_c)

    def _event(self, kind: Any, **fields: Any) -> Any:
        return _DAIRY.event(kind, **{"at": _LONG_BEFORE} | fields)

    def _tell(self, events: Sequence[Event]) -> None:
        context = Context(now_us=to_us(NOW), air=_RULE)
        with self.store.writing() as tx:
            unit = Unit.of(MANAGER, list(events), all_or_nothing=False)
            (outcomes,) = tell_units(tx, [unit], context)
        assert [one for one in outcomes if not isinstance(one, Told)] == []

    # --- what it comes to ---------------------------------------------------------------------

    def assert_answers_are_right(self) -> None:
        """What is asked is what all the readings say, whatever is due."""
        with self.store.reading() as snap:
            for room in self.rooms:
                pieces = hours_over(
                    snap, room, _FIRST_HOUR * HOUR_US, _BEHIND_HOUR * HOUR_US, _RULE
                )
                asked = [(one.from_us // HOUR_US, one.tally) for one in pieces]
                _assert_same(asked, _from_readings(snap, room))
            for sensor in self.sensors:
                assert sensor_doubts(snap, sensor, *_ALL) == _all_doubts(snap, sensor)

    def assert_kept_is_right(self) -> None:
        """With nothing due, what is kept is what all the readings say."""
        with self.store.reading() as snap:
            assert snap.due_left() == 0
            for room in self.rooms:
                kept = snap.air_hours(room, (_FIRST_HOUR, _BEHIND_HOUR))
                _assert_same(kept, _from_readings(snap, room))
                days = _FIRST_HOUR // DAY_HOURS, -(-_BEHIND_HOUR // DAY_HOURS)
                assert snap.air_days(room, days) == roll_days(snap, room, *days)
            for sensor in self.sensors:
                assert snap.doubts([sensor], *_ALL) == _all_doubts(snap, sensor)


def _from_readings(snap: ReadTransaction, room: str) -> list[tuple[int, Tally]]:
    return roll_hours(snap, room, _FIRST_HOUR, _BEHIND_HOUR, _RULE)


def _all_doubts(snap: ReadTransaction, sensor: str) -> list[DoubtRow]:
    shown = [sample_of(*one) for one in snap.readings(sensor, *_ALL)]
    return [
        DoubtRow(sensor, one.from_us, one.kind, one.until_us, one.detail) for one in doubts(shown)
    ]


def _assert_same(ours: list[tuple[int, Tally]], theirs: list[tuple[int, Tally]]) -> None:
    """Fractions to 1e-9 of them, all else to the bit."""
    assert [hour for hour, _ in ours] == [hour for hour, _ in theirs]
    for (_, one), (_, other) in zip(ours, theirs, strict=True):
        for name, mine, wanted in zip(Tally._fields, one, other, strict=True):
            if isinstance(wanted, float):
                assert mine == pytest.approx(wanted, rel=1e-9, abs=1e-12), name
            else:
                assert mine == wanted, name


# Each example has rooms and sensors of its own. To make a failing one small would take long.
@settings(
    max_examples=40,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(steps=_STEPS, data=st.data())
def test_the_order_of_telling_does_not_matter(
    store: Store, steps: list[_Step], data: st.DataObject
) -> None:
    """Readings late, repeated and re-ordered, in any batches; sensors moved and given offsets,
    limits set, declarations voided in between; hours rolled up or not yet: every answer on the
    way is that of the readings, and so is what is kept in the end."""
    example = _Example(store)
    for step in steps:
        example.take(step)
        if data.draw(st.integers(0, 3)) == 0:
            example.assert_answers_are_right()
    again = [step for step in steps if step.what == "read"]
    for step in data.draw(st.permutations(again))[:3]:
        example.take(step)
    example.assert_answers_are_right()
    while example.roller.work():
        pass
    example.assert_kept_is_right()
    example.assert_answers_are_right()
