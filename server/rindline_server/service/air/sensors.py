"""Sensors: where they hang, what they showed last, which of their readings are in doubt."""

from collections.abc import Sequence
from datetime import datetime

from rindline_schema.answers import SensorPage, SensorState
from rindline_schema.params import PageParams
from rindline_schema.registers import Room, Sensor
from rindline_server.ledger.hanging import FIRST_US, LAST_US
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.times import from_us as moment
from rindline_server.ledger.times import to_us
from rindline_server.ledger.world import Version
from rindline_server.service.air.doubts import as_doubt, sensor_doubts
from rindline_server.service.cursors import read_cursor, write_cursor
from rindline_server.store import ReadTransaction

__all__ = ["sensor_page"]

_MOST_DOUBTS = 20
_MINUTE_US = 60_000_000

_Shown = tuple[int, int | None, int | None]


def sensor_page(snap: ReadTransaction, params: PageParams, now: datetime) -> SensorPage:
    """List the sensors by code, as they are declared now."""
    after = read_cursor(params.cursor) or ""
    codes = sorted(
        code for register, code in snap.registers if register == "sensor" and code > after
    )
    page = codes[: params.limit]
    last = snap.last_readings(page)
    return SensorPage(
        sensors=[_state(snap, code, last.get(code), to_us(now)) for code in page],
        as_of=snap.as_of,
        next_cursor=write_cursor(page[-1]) if len(codes) > params.limit else None,
    )


def _state(snap: ReadTransaction, code: str, last: _Shown | None, now_us: int) -> SensorState:
    current, since_us = _hangs(snap.registers["sensor", code], now_us)
    room = entry_at(snap.registers, "room", current.room, now_us)
    at_us, c_milli, humidity_milli = last if last is not None else (None, None, None)
    doubts = sensor_doubts(snap, code, FIRST_US, LAST_US)
    return SensorState(
        sensor=code,
        name=current.name,
        room=current.room,
        site=room.site if isinstance(room, Room) else None,
        since=moment(since_us),
        offset_c=current.offset_c,
        offset_humidity_pct=current.offset_humidity_pct,
        last_at=moment(at_us) if at_us is not None else None,
        last_temperature_c=c_milli / 1000 if c_milli is not None else None,
        last_humidity_pct=humidity_milli / 1000 if humidity_milli is not None else None,
        silent_minutes=round((now_us - at_us) / _MINUTE_US, 6) if at_us is not None else None,
        doubts=[as_doubt(row) for row in doubts[-_MOST_DOUBTS:]],
    )


def _hangs(versions: Sequence[Version], now_us: int) -> tuple[Sensor, int]:
    """Give a sensor as declared now, and since when it has hung in its room."""
    begun = [version for version in versions if version.at_us <= now_us] or versions[:1]
    current = begun[-1].entry
    assert isinstance(current, Sensor)
    since_us = begun[-1].at_us
    for version in reversed(begun):
        if not isinstance(version.entry, Sensor) or version.entry.room != current.room:
            break
        since_us = version.at_us
    return current, since_us
