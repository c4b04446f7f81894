"""Rolling up: by the writer's thread while nothing waits, after a failure, after a start."""

import logging
import threading
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest

from rindline_schema.answers import Reading
from rindline_schema.events import Correct, Declare
from rindline_schema.registers import Room, Sensor
from rindline_server.calc.air import HOUR_US, AirRule, Tally, doubts, sample_of
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.times import to_us
from rindline_server.service import Service
from rindline_server.service.air import rolling
from rindline_server.service.air.hours import roll_hours
from rindline_server.service.air.rolling import Roller
from rindline_server.service.rebuild import Difference
from rindline_server.store import DoubtRow, Store
from tests.service.callers import ANSWER_S, MANAGER, recorded
from tests.service.dairy import NOW, Dairy
from tests.store.databases import direct

_RULE = AirRule()
_HOURS = 0, 10**6
_ALL = -(2**62), 2**62
_TIMES = 10_000


@pytest.fixture
def idle(store: Store) -> Service:
    """A service whose writer does not run: what is due stays due."""
    return Service(store, lambda: NOW, ScaleTolerance())


@pytest.fixture
def dairy(store: Store) -> Dairy:
    """Rooms, and a sensor in each of two, declared by a service that has stopped since."""
    service, dairy = Service(store, lambda: NOW, ScaleTolerance()), Dairy()
    service.start()
    recorded(service, dairy.declared())
    for code, room in (("T-CAVE", "CAVE"), ("T-DAIRY", "DAIRY")):
        recorded(service, [dairy.event(Declare, entry=Sensor(code=code, name="Air", room=room))])
    service.stop(ANSWER_S)
    return dairy


def _until(true: Callable[[], bool]) -> None:
    """Wait until something holds; the test fails if it never does."""
    pause = threading.Event()
    for _ in range(_TIMES):
        if true():
            return
        pause.wait(0.002)
    raise AssertionError("what was waited for did not happen")


def _read(service: Service, days: float = 1, sensor: str = "T-CAVE", step: int = 5) -> None:
    """Tell the readings of the last days; they make a jump of themselves."""
    minutes = range(0, round(days * 1440), step)
    readings = [
        Reading(sensor=sensor, at=NOW - timedelta(minutes=m), temperature_c=11 + 9 * (m == 60))
        for m in minutes
    ]
    assert service.tell_readings(MANAGER, readings).recorded == len(minutes)


def _left(store: Store) -> int:
    with store.reading() as snap:
        return snap.due_left()


def _kept(store: Store, room: str = "CAVE") -> list[tuple[int, Tally]]:
    with store.reading() as snap:
        return snap.air_hours(room, _HOURS)


def _right(store: Store, room: str = "CAVE") -> list[tuple[int, Tally]]:
    now_hour = to_us(NOW) // HOUR_US
    with store.reading() as snap:
        return roll_hours(snap, room, now_hour - 24 * 40, now_hour + 4, _RULE)


def _started(store: Store) -> Service:
    service = Service(store, lambda: NOW, ScaleTolerance())
    service.start()
    return service


def test_the_writer_rolls_up_what_was_told(store: Store, dairy: Dairy) -> None:
    """Soon after, and without being asked; doubts too."""
    service = _started(store)
    _read(service)
    _until(lambda: _left(store) == 0)
    assert _kept(store) == _right(store)
    assert len(_kept(store)) == 25
    with store.reading() as snap:
        assert [one.kind for one in snap.doubts(["T-CAVE"], *_ALL)] == ["jump"]
    service.stop(ANSWER_S)


def test_a_doubt_of_weeks_is_one_however_it_was_found(
    store: Store, idle: Service, dairy: Dairy
) -> None:
    """Found in pieces of a week, and a part of it told at last: a sensor that stood still for
    40 days but for one jump has the doubts that all its readings at once have."""
    minutes = [*range(0, 20 * 1440, 30), *range(25 * 1440, 40 * 1440, 30)]
    late = range(20 * 1440, 25 * 1440, 30)
    roller = Roller(store, _RULE)
    for told in (minutes, late):
        readings = [
            Reading(sensor="T-CAVE", at=NOW - timedelta(minutes=m), humidity_pct=90 + 9 * (m == 60))
            for m in told
        ]
        idle.tell_readings(MANAGER, readings)
        while roller.work():
            pass
        with store.reading() as snap:
            shown = [sample_of(*one) for one in snap.readings("T-CAVE", *_ALL)]
            found = [(one.kind, one.from_us, one.until_us) for one in doubts(shown)]
            kept = snap.doubts(["T-CAVE"], *_ALL)
            assert [(one.kind, one.from_us, one.until_us) for one in kept] == found
    assert [kind for kind, _, _ in found] == ["stuck"]


def test_only_hours_that_a_reading_can_change_are_due(
    store: Store, idle: Service, dairy: Dairy
) -> None:
    """Its own, and as far as the longest gap to both sides; of the rooms the sensor hung in."""
    hour = to_us(NOW) // HOUR_US
    moved = Sensor(code="T-CAVE", name="Air", room="STORE")
    service = _started(store)
    recorded(service, [dairy.event(Declare, at=NOW - timedelta(hours=30), entry=moved)])
    service.stop(ANSWER_S)
    at = [NOW - timedelta(hours=50, minutes=-30), NOW - timedelta(hours=30, minutes=-30)]
    idle.tell_readings(MANAGER, [Reading(sensor="T-CAVE", at=one, temperature_c=11) for one in at])
    with store.reading() as snap:
        assert snap.due_hours("CAVE", *_HOURS) == [(hour - 51, hour - 47), (hour - 31, hour - 29)]
        assert snap.due_hours("STORE", *_HOURS) == [(hour - 30, hour - 27)]
        assert snap.due_hours("DAIRY", *_HOURS) == []
        assert snap.due_doubts("T-CAVE", *_HOURS) == [
            (hour - 50, hour - 49),
            (hour - 30, hour - 29),
        ]


def test_limits_declared_afterwards_change_the_hours(
    store: Store, idle: Service, dairy: Dairy
) -> None:
    """From the declaration's time to the next one's; a correction that voids it changes them
    back; a room declared just as it was makes nothing due."""
    service = _started(store)
    _read(service, days=3)
    _until(lambda: _left(store) == 0)
    before = _kept(store)
    hour = to_us(NOW) // HOUR_US
    same = Room(code="CAVE", name="Another name", site="QM")
    tight = Room(code="CAVE", name="Cave", site="QM", most_c=10.0)
    recorded(service, [dairy.event(Declare, at=NOW - timedelta(hours=60), entry=same)])
    assert _left(store) == 0
    event = dairy.event(Declare, at=NOW - timedelta(hours=40), entry=tight)
    recorded(service, [event])
    _until(lambda: _left(store) == 0)
    warm = [one for one, tally in _kept(store) if tally.too_warm_us]
    assert warm == list(range(hour - 40, hour))
    assert _kept(store) == _right(store)
    recorded(service, [dairy.event(Correct, event=event.id, reason="another room")])
    _until(lambda: _left(store) == 0)
    assert _kept(store) == before
    service.stop(ANSWER_S)


def test_what_is_due_is_worked_off_after_a_start(store: Store, idle: Service, dairy: Dairy) -> None:
    """By whichever server starts next, though nobody tells it anything."""
    _read(idle)
    assert _left(store) > 24
    assert _kept(store) == []
    service = _started(store)
    _until(lambda: _left(store) == 0)
    service.stop(ANSWER_S)
    assert _kept(store) == _right(store) != []


def test_a_failure_does_not_end_the_writer(
    store: Store,
    idle: Service,
    dairy: Dairy,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    """A room that can't be rolled up is logged and left; others are done, events are told, and
    once the fault is gone the next reading has it all done."""
    _read(idle)
    _read(idle, sensor="T-DAIRY")

    def faulty(snap: Any, room: str, *rest: Any) -> Any:
        if room == "CAVE":
            raise ZeroDivisionError
        return roll_hours(snap, room, *rest)

    monkeypatch.setattr(rolling, "roll_hours", faulty)
    with caplog.at_level(logging.CRITICAL, "rindline.rolling"):
        service = _started(store)
        _until(lambda: _kept(store, "DAIRY") != [])
        recorded(service, [dairy.milk(100)])
        _until(lambda: not _doubts_due(store))
        assert _kept(store) == []
        monkeypatch.setattr(rolling, "roll_hours", roll_hours)
        late = NOW - timedelta(minutes=2)
        service.tell_readings(MANAGER, [Reading(sensor="T-CAVE", at=late, temperature_c=11)])
        _until(lambda: _left(store) == 0)
    assert _kept(store) == _right(store) != []
    service.stop(ANSWER_S)


def _doubts_due(store: Store) -> bool:
    with store.reading() as snap:
        return snap.next_due_doubts() is not None


class _Gate:
    """Lets pieces of rolling up through one by one."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.begun = threading.Event()
        self.go_on = threading.Event()
        self.pieces = 0
        real = roll_hours

        def gated(*given: Any) -> Any:
            self.pieces += 1
            self.begun.set()
            assert self.go_on.wait(ANSWER_S)
            return real(*given)

        monkeypatch.setattr(rolling, "roll_hours", gated)


def test_events_wait_for_one_piece_at_most(
    store: Store, idle: Service, dairy: Dairy, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Told while a piece is rolled up, an event is next, however much is due."""
    _read(idle, days=30, step=60)
    gate = _Gate(monkeypatch)
    service = _started(store)
    assert gate.begun.wait(ANSWER_S)
    future = service.tell(MANAGER, [dairy.milk(100)])
    seen: list[int] = []
    future.add_done_callback(lambda _: seen.append(gate.pieces))
    gate.go_on.set()
    assert future.result(ANSWER_S)
    _until(lambda: seen != [])
    assert seen == [1]
    _until(lambda: _left(store) == 0)
    assert gate.pieces > 1
    service.stop(ANSWER_S)


def test_a_stop_waits_for_one_piece_at_most(
    store: Store, idle: Service, dairy: Dairy, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is still due stays due, for the next start."""
    _read(idle, days=30, step=60)
    gate = _Gate(monkeypatch)
    service = _started(store)
    assert gate.begun.wait(ANSWER_S)
    stopping = threading.Thread(target=service.stop, args=(ANSWER_S,))
    stopping.start()
    _until(lambda: service._writer._stopping)
    gate.go_on.set()
    stopping.join(ANSWER_S)
    assert not stopping.is_alive()
    assert gate.pieces == 1
    assert _left(store) > 0


def _progress(_done: int, _total: int) -> None:
    pass


def test_a_rebuild_rolls_up_all_readings(
    store: Store, idle: Service, dairy: Dairy, database_url: str
) -> None:
    """What is due is no difference; an hour or a doubt that is not what the readings say is one.
    A check changes nothing, a rebuild puts it right, and both say how far they are."""
    _read(idle, days=40)
    said: list[tuple[int, int]] = []
    rebuilt = idle.rebuild(lambda done, total: said.append((done, total)), check=True)
    assert rebuilt.differences == []
    assert _left(store) > 0
    assert said[-1][0] == said[-1][1] > 40 * 24
    assert idle.rebuild(_progress, check=False).differences == []
    assert _left(store) == 0
    assert _kept(store) == _right(store) != []
    right = _kept(store)
    with direct(database_url) as connection:
        connection.exec_driver_sql("UPDATE air_hours SET area_c_h = area_c_h + 1e-9")
    with store.writing() as tx:
        tx.put_doubts("T-CAVE", 5, 6, [DoubtRow("T-CAVE", 5, "jump", 6, "made up")])
    wrong = [Difference("air_hours", len(right), len(right)), Difference("doubts", 3, 2)]
    assert idle.rebuild(_progress, check=True).differences == wrong
    assert _kept(store) != right
    assert idle.rebuild(_progress, check=False).differences == wrong
    assert _kept(store) == right
    assert idle.rebuild(_progress, check=True).differences == []


def test_readings_stay_through_a_rebuild(store: Store, idle: Service, dairy: Dairy) -> None:
    """They are no part of what is derived; and those of a sensor nobody declares any more make
    no air."""
    _read(idle)
    with store.reading() as snap:
        before = snap.readings("T-CAVE", *_ALL)
        (declared,) = snap.registers["sensor", "T-CAVE"]
    service = _started(store)
    recorded(service, [dairy.event(Correct, event=UUID(declared.event), reason="no such sensor")])
    _until(lambda: _left(store) == 0)
    service.stop(ANSWER_S)
    assert _kept(store) == []
    assert idle.rebuild(_progress, check=True).differences == []
    idle.rebuild(_progress, check=False)
    with store.reading() as snap:
        assert snap.readings("T-CAVE", *_ALL) == before
        assert len(before) == 288


def test_another_rule_needs_a_rebuild(database_url: str, dairy: Dairy) -> None:
    """A service with another longest gap finds other hours than are kept, and makes them so."""
    with closing(Store(database_url)) as store:
        service = _started(store)
        _read(service, step=60)
        _until(lambda: _left(store) == 0)
        service.stop(ANSWER_S)
        strict = AirRule(longest_gap_us=30 * 60_000_000)
        other = Service(store, lambda: NOW, ScaleTolerance(), strict)
        names = [one.table for one in other.rebuild(_progress, check=False).differences]
        assert names == ["air_hours", "air_days"]
        assert all(tally.c_us == 0 and tally.readings for _, tally in _kept(store))
