"""What the server makes of an outbox: numbers, clocks, replays, on both databases."""

from datetime import timedelta
from uuid import UUID

from rindline_schema.answers import DrillRequest, Outcome, Refused, Told
from rindline_schema.events import Event, Weigh
from rindline_schema.params import PageParams
from rindline_schema.problems import make_problem
from rindline_schema.uuid7 import uuid7
from rindline_server.service import OutboxSays, Service
from tests.service.callers import ANSWER_S, MANAGER, STATION, recorded
from tests.service.conftest import service, store
from tests.service.dairy import NOW, Dairy

__all__ = ["service", "store"]

_OUTBOX = uuid7(1_700_000_000_000, bytes(10))


def _say(
    numbers: list[int], next_number: int, *, clock_ahead_s: float = 0, queued: int = 0
) -> OutboxSays:
    return OutboxSays(
        outbox=_OUTBOX,
        station_clock=NOW + timedelta(seconds=clock_ahead_s),
        next_number=next_number,
        queued=queued,
        set_aside=0,
        oldest_age_ms=None,
        blocks=(),
        numbers=numbers,
    )


def _tell(
    service: Service, events: list[Event | Refused], ages_ms: list[int], says: OutboxSays
) -> list[Outcome]:
    return service.tell_outbox(STATION, events, ages_ms, says).result(ANSWER_S)


def _weigh(dairy: Dairy, lot: str, mass_g: int) -> Weigh:
    return dairy.event(Weigh, lot=lot, mass_g=mass_g)


def test_a_clock_two_days_wrong_loses_nothing(service: Service) -> None:
    """``at`` is what the age says, the station's own reading is kept, sent again it's the same."""
    dairy = Dairy()
    recorded(service, dairy.declared())
    told = _weigh(dairy, dairy.code("wheel"), 8_000)
    ahead = dairy.event(Weigh, lot=told.lot, mass_g=7_900, at=NOW + timedelta(hours=48))
    (outcome,) = _tell(service, [ahead], [60_000], _say([1], 2, clock_ahead_s=48 * 3600))
    assert isinstance(outcome, Told)
    kept = service.event(MANAGER, ahead.id).event
    assert kept.at == NOW - timedelta(minutes=1)
    assert kept.station_at == ahead.at
    (again,) = _tell(service, [ahead], [3_600_000], _say([1], 2, clock_ahead_s=48 * 3600))
    assert isinstance(again, Told)
    assert again.replay
    assert again.seq == outcome.seq
    (state,) = service.stations(MANAGER, PageParams()).stations[0].outboxes
    assert state.clock_ahead_ms == 48 * 3600 * 1000


def test_a_small_difference_leaves_the_time_as_told(service: Service) -> None:
    """Within two minutes the station is believed."""
    dairy = Dairy()
    recorded(service, dairy.declared())
    event = dairy.event(Weigh, lot=dairy.code("wheel"), mass_g=1, at=NOW - timedelta(seconds=90))
    _tell(service, [event], [0], _say([1], 2))
    kept = service.event(MANAGER, event.id).event
    assert kept.at == event.at
    assert kept.station_at is None


def test_missing_numbers_are_named_until_they_come(service: Service) -> None:
    """Recorded and refused numbers came; what lies between is missing, and a drill says so."""
    dairy = Dairy()
    recorded(service, dairy.declared())
    lot = dairy.code("wheel")
    unreadable = Refused(problem=make_problem("malformed", "half an event"))
    first: list[Event | Refused] = [_weigh(dairy, lot, 8_000), unreadable]
    _tell(service, first, [0, 0], _say([1, 4], 7, queued=2))
    (station,) = service.stations(MANAGER, PageParams()).stations
    (state,) = station.outboxes
    assert [(gap.first, gap.last) for gap in state.missing] == [(2, 3), (5, 6)]
    assert state.missing_count == 4
    assert state.refused_count == 1
    drill = service.start_drill(MANAGER, DrillRequest(id=dairy.id(), lots=[lot]))
    assert [one.name for one in drill.stations_behind] == [STATION.name]
    late: list[Event | Refused] = [_weigh(dairy, lot, 7_990 - i) for i in range(4)]
    _tell(service, late, [0] * 4, _say([2, 3, 5, 6], 7))
    (state,) = service.stations(MANAGER, PageParams()).stations[0].outboxes
    assert state.missing_count == 0
    assert (
        service.start_drill(MANAGER, DrillRequest(id=dairy.id(), lots=[lot])).stations_behind == []
    )


def test_a_batch_held_up_takes_nothing_back(service: Service) -> None:
    """An older batch that comes later adds its numbers and leaves the newer figures alone."""
    dairy = Dairy()
    recorded(service, dairy.declared())
    lot = dairy.code("wheel")
    _tell(service, [_weigh(dairy, lot, 8_000)], [0], _say([2], 3, queued=0))
    _tell(service, [_weigh(dairy, lot, 7_990)], [0], _say([1], 2, queued=5))
    (state,) = service.stations(MANAGER, PageParams()).stations[0].outboxes
    assert (state.next_number, state.queued, state.missing_count) == (3, 0, 0)
    assert isinstance(state.outbox, UUID)
