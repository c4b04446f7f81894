"""The list of sensors: where they hang, what they showed last, what is in doubt."""

import pytest

from rindline_schema.answers import SensorPage
from rindline_schema.params import ClimateParams, PageParams
from rindline_server.service import Service
from rindline_server.service.air.sensors import sensor_page
from rindline_server.store import Store
from tests.service.callers import MANAGER, STATION
from tests.service.cellar import Cellar, after, course
from tests.service.dairy import NOW

_DAY = 24 * 60


@pytest.fixture
def cellar(store: Store) -> Cellar:
    return Cellar(store)


def _steady(_: int) -> float:
    return 10.0


def _sensors(cellar: Cellar, **params: object) -> SensorPage:
    with cellar.store.reading() as snap:
        return sensor_page(snap, PageParams(**params), cellar.now)  # type: ignore[arg-type]


def test_sensors(cellar: Cellar) -> None:
    """Where a sensor hangs since when, what it showed last without its offset, its doubts."""
    cellar.room("CAVE")
    cellar.room("STORE")
    cellar.sensor("S-1", "STORE")
    cellar.sensor("S-1", "CAVE", minutes=100)
    cellar.sensor("S-1", "CAVE", minutes=200, offset_c=0.5)
    cellar.sensor("S-2", "STORE", minutes=100)
    cellar.read(course(range(0, 2 * _DAY, 30), _steady, _steady), "S-1")
    cellar.now = after(2 * _DAY)
    cellar.mark_due(0, 2 * _DAY)
    page = _sensors(cellar)
    one, other = page.sensors
    assert (one.sensor, one.room, one.site, one.since) == ("S-1", "CAVE", "QM", after(100))
    assert (one.offset_c, one.last_temperature_c, one.last_humidity_pct) == (0.5, 10, 10)
    assert (one.last_at, one.silent_minutes) == (after(2 * _DAY - 30), 30)
    assert [(doubt.kind, doubt.from_at) for doubt in one.doubts] == [("stuck", after(0))]
    assert (other.sensor, other.last_at, other.silent_minutes, other.doubts) == (
        "S-2",
        None,
        None,
        [],
    )
    assert page.next_cursor is None


def test_sensors_declared_for_later_hang_where_they_will(cellar: Cellar) -> None:
    """A declaration counts from its time on; the first one also before."""
    cellar.room("CAVE")
    cellar.room("STORE")
    cellar.sensor("S-1", "CAVE", minutes=100)
    cellar.sensor("S-1", "STORE", minutes=300)
    for now, room, since in ((0, "CAVE", 100), (299, "CAVE", 100), (300, "STORE", 300)):
        cellar.now = after(now)
        (state,) = _sensors(cellar).sensors
        assert (state.room, state.since) == (room, after(since))


def test_sensors_page_by_page(cellar: Cellar) -> None:
    """Pages follow on one another by code and end without a cursor."""
    cellar.room()
    for number in range(5):
        cellar.sensor(f"S-{number}")
    seen: list[str] = []
    cursor = None
    while True:
        page = _sensors(cellar, limit=2, cursor=cursor)
        seen += [state.sensor for state in page.sensors]
        cursor = page.next_cursor
        if cursor is None:
            break
    assert seen == [f"S-{number}" for number in range(5)]


def test_of_many_doubts_the_last_twenty(cellar: Cellar) -> None:
    """A sensor with thirty jumps shows the last twenty of them, in order of time."""
    cellar.room()
    cellar.sensor()
    jumps = [one for n in range(30) for one in ((n * 100, 10.0, None), (n * 100 + 5, 20.0, None))]
    cellar.read(jumps)
    cellar.mark_due(0, 3000)
    (state,) = _sensors(cellar).sensors
    assert [doubt.from_at for doubt in state.doubts] == [after(n * 100) for n in range(10, 30)]


def test_the_service_answers_both(cellar: Cellar, service: Service) -> None:
    """Through the service the time ends now, for every caller of the business alike."""
    cellar.room()
    cellar.sensor()
    answer = service.climate(STATION, "CAVE", ClimateParams())
    assert answer.until_at == NOW
    assert answer.as_of == 3
    assert answer == service.climate(MANAGER, "CAVE", ClimateParams())
    assert [state.sensor for state in service.sensors(STATION, PageParams()).sensors] == ["S-1"]
