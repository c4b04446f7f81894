"""Readings told: each is recorded once, and one that is refused harms no other."""

import random
from collections.abc import Sequence
from contextlib import closing
from datetime import datetime, timedelta
from typing import Any

import pytest

from rindline_schema.answers import Reading, ReadingsAnswer
from rindline_schema.events import Declare
from rindline_schema.problems import Problem, make_problem
from rindline_schema.registers import Sensor
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.times import to_us
from rindline_server.service import Caller, Service
from rindline_server.store import Store
from rindline_server.store.link import Link
from tests.service.callers import MANAGER, STATION, recorded
from tests.service.dairy import NOW, Dairy

_STATION_R = Caller(key="rindline_00000009", name="logger", role="station", site="QR")
_ANYWHERE = Caller(key="rindline_00000010", name="logger", role="station")
_FIRST, _LAST = -(2**62), 2**62


@pytest.fixture
def dairy(service: Service) -> Dairy:
    """Sensors of the Cave (site QM) and the Store (site QR), declared two days ago."""
    dairy = Dairy()
    recorded(service, dairy.declared())
    at = _ago(days=2)
    for code, room in (("T-CAVE", "CAVE"), ("T-STORE", "STORE")):
        entry = Sensor(code=code, name="Air", room=room)
        recorded(service, [dairy.event(Declare, at=at, entry=entry)])
    return dairy


def _ago(**past: float) -> datetime:
    return NOW - timedelta(**past)


def _reading(minutes_ago: float = 10, sensor: str = "T-CAVE", **shown: Any) -> Reading:
    shown = shown or {"temperature_c": 11.25, "humidity_pct": 93.0}
    return Reading(sensor=sensor, at=_ago(minutes=minutes_ago), **shown)


def _codes(answer: ReadingsAnswer) -> dict[int, str]:
    return {one.index: one.problem.code for one in answer.refused}


def _shown(store: Store, sensor: str = "T-CAVE") -> list[tuple[int, int | None, int | None]]:
    with store.reading() as snap:
        return snap.readings(sensor, _FIRST, _LAST)


def _counts(answer: ReadingsAnswer) -> tuple[int, int, int]:
    return answer.recorded, answer.repeated, len(answer.refused)


def test_refused_readings_stand_beside_recorded_ones(
    service: Service, store: Store, dairy: Dairy
) -> None:
    """Each reading has its own fate; those refused are named by their place, with the reason."""
    malformed = make_problem("malformed", "At /at: Missing.")
    items: list[Reading | Problem] = [
        malformed,
        _reading(10),
        _reading(11, sensor="T-NOWHERE"),
        _reading(-6),
        Reading(sensor="T-CAVE", at=_ago(minutes=12)),
        _reading(13, sensor="T-STORE"),
        _reading(14),
        _reading(10, temperature_c=11.0),
        _reading(14),
    ]
    answer = service.tell_readings(STATION, items)
    assert _counts(answer) == (2, 1, 6)
    assert _codes(answer) == {
        0: "malformed",
        2: "not_declared",
        3: "ahead_of_clock",
        4: "not_valid",
        5: "not_your_site",
        7: "reading_differs",
    }
    assert [one.index for one in answer.refused] == sorted(_codes(answer))
    assert answer.refused[0].problem is malformed
    assert [at for at, _, _ in _shown(store)] == [to_us(_ago(minutes=m)) for m in (14, 10)]
    assert _shown(store, "T-STORE") == []


def test_what_is_told_again_is_recorded_once(service: Service, store: Store, dairy: Dairy) -> None:
    """A logger that heard no answer sends its batch again, in any order and with more: nothing
    is doubled, nothing is lost."""
    batch = [_reading(minute) for minute in range(100)]
    assert _counts(service.tell_readings(STATION, batch)) == (100, 0, 0)
    before = _shown(store)
    again = [*batch, _reading(100), *batch[:7]]
    random.Random(3).shuffle(again)
    assert _counts(service.tell_readings(STATION, again)) == (1, 107, 0)
    assert _shown(store)[1:] == before
    assert len(before) == 100


def test_other_values_for_the_same_time_are_refused(
    service: Service, store: Store, dairy: Dairy
) -> None:
    """The first values stand, and the refusal says which: against the record, and within a batch.
    A value left out differs from one given; less than a thousandth is no difference."""
    first = [_reading(10, temperature_c=11.25), _reading(20, humidity_pct=93.0)]
    service.tell_readings(STATION, first)
    answer = service.tell_readings(
        STATION,
        [
            _reading(10, temperature_c=11.251),
            _reading(10, temperature_c=11.25),
            _reading(10, temperature_c=11.25, humidity_pct=93.0),
            _reading(10, temperature_c=11.2504),
            _reading(20, humidity_pct=92.0),
            _reading(30, temperature_c=9.0),
            _reading(30, temperature_c=9.5),
            _reading(30, temperature_c=9.0),
        ],
    )
    assert _counts(answer) == (1, 3, 4)
    assert _codes(answer) == dict.fromkeys((0, 2, 4, 6), "reading_differs")
    assert "11.25 degrees" in answer.refused[0].problem.detail
    assert "93 %" in answer.refused[2].problem.detail
    assert "9 degrees" in answer.refused[3].problem.detail
    assert [row[1:] for row in _shown(store)] == [(9_000, None), (None, 93_000), (11_250, None)]


@pytest.mark.parametrize(
    ("minutes_ahead", "code"), [(4.9, None), (5.1, "ahead_of_clock"), (60, "ahead_of_clock")]
)
def test_a_clock_may_be_a_little_ahead(
    service: Service, dairy: Dairy, minutes_ahead: float, code: str | None
) -> None:
    """As far as an event may lie ahead, and no further."""
    answer = service.tell_readings(MANAGER, [_reading(-minutes_ahead)])
    assert _codes(answer) == ({0: code} if code else {})


def test_a_station_tells_of_the_sensors_at_its_site(service: Service, dairy: Dairy) -> None:
    """By where the sensor hung when it took the reading: it is moved to another site at a moment,
    and back. A manager and a station bound to no site tell of all."""
    for days, room in ((1, "STORE"), (0.5, "CAVE")):
        entry = Sensor(code="T-CAVE", name="Air", room=room)
        recorded(service, [dairy.event(Declare, at=_ago(days=days), entry=entry)])
    minutes = [5 * 1440, 1441, 1440, 721, 720, 10]
    here = [_reading(minute) for minute in minutes]
    assert set(_codes(service.tell_readings(STATION, here))) == {2, 3}
    assert set(_codes(service.tell_readings(_STATION_R, here))) == {0, 1, 4, 5}
    for caller in (MANAGER, _ANYWHERE):
        assert _counts(service.tell_readings(caller, here)) == (0, 6, 0)


def test_values_are_kept_to_a_thousandth_as_they_were_shown(
    service: Service, store: Store, dairy: Dairy
) -> None:
    """Raw: the offset declared for the sensor is no part of what is kept."""
    entry = Sensor(code="T-CAVE", name="Air", room="CAVE", offset_c=-1.5, offset_humidity_pct=3)
    recorded(service, [dairy.event(Declare, entry=entry)])
    service.tell_readings(MANAGER, [_reading(9, temperature_c=-0.0004, humidity_pct=99.9996)])
    assert [row[1:] for row in _shown(store)] == [(0, 100_000)]


def test_a_batch_says_what_is_hard_to_believe_in_it(
    service: Service, store: Store, dairy: Dairy
) -> None:
    """A jump and days of saturation are recorded and named, by sensor, also told again; what is
    fine is not named."""
    calm = [_reading(minute, temperature_c=11 + minute % 3 / 10) for minute in range(0, 60, 5)]
    assert service.tell_readings(MANAGER, calm).doubts == []
    jump = [_reading(m, "T-STORE", temperature_c=c) for m, c in ((20, 11), (15, 25), (10, 11.1))]
    wet = [
        _reading(minute, humidity_pct=100, temperature_c=minute / 100)
        for minute in range(70, 50 * 60, 30)
    ]
    batch = [*wet, *jump]
    random.Random(5).shuffle(batch)
    for counts in ((len(batch), 0, 0), (0, len(batch), 0)):
        answer = service.tell_readings(MANAGER, batch)
        assert _counts(answer) == counts
        assert [(one.sensor, one.kind) for one in answer.doubts] == [
            ("T-CAVE", "saturated"),
            ("T-STORE", "jump"),
        ]
        jumped = answer.doubts[1]
        assert (jumped.from_at, jumped.until_at) == (_ago(minutes=20), _ago(minutes=10))
    assert len(_shown(store)) == len(calm) + len(wet)


def test_a_whole_batch_of_ten_thousand(service: Service, store: Store, dairy: Dairy) -> None:
    """As much as a request may carry, of two sensors, out of order."""
    batch = [
        _reading(minute, sensor, temperature_c=11 + minute % 7 / 10)
        for minute in range(5_000)
        for sensor in ("T-CAVE", "T-STORE")
    ]
    random.Random(2).shuffle(batch)
    assert _counts(service.tell_readings(MANAGER, batch)) == (10_000, 0, 0)
    assert len(_shown(store)) == len(_shown(store, "T-STORE")) == 5_000
    assert _counts(service.tell_readings(MANAGER, batch[::-1])) == (0, 10_000, 0)


class _TornError(Exception):
    """A fault put in on purpose."""


def test_nothing_is_acknowledged_before_its_commit(
    service: Service, store: Store, dairy: Dairy, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the commit fails there is no answer and no reading; told again, all are new. At the
    moment of the commit nobody else sees any."""
    real = Link.commit
    seen: list[Sequence[object]] = []

    def torn(self: Link) -> None:
        seen.append(_shown(store))
        raise _TornError

    batch = [_reading(minute) for minute in range(50)]
    monkeypatch.setattr(Link, "commit", torn)
    with pytest.raises(_TornError):
        service.tell_readings(STATION, batch)
    monkeypatch.setattr(Link, "commit", real)
    assert seen[0] == []
    assert _shown(store) == []
    assert _counts(service.tell_readings(STATION, batch)) == (50, 0, 0)
    assert len(_shown(store)) == 50


def test_readings_take_no_place_in_the_ledger(
    service: Service, database_url: str, dairy: Dairy
) -> None:
    """The head stands where it stood; and another service on the same record knows them."""
    head = service.head()
    batch = [_reading(minute) for minute in range(20)]
    service.tell_readings(STATION, batch)
    assert service.head() == head
    with closing(Store(database_url)) as other:
        answer = Service(other, lambda: NOW, ScaleTolerance()).tell_readings(STATION, batch)
    assert _counts(answer) == (0, 20, 0)
