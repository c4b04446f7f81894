"""What the fake server makes of readings: it keeps them once, and knows the sensors declared."""

from datetime import datetime

import msgspec

from rindline._clock import Clock
from rindline.testing._record import Record
from rindline_schema.answers import (
    Reading,
    ReadingsAnswer,
    RefusedReading,
    SensorPage,
    SensorState,
)
from rindline_schema.answers.readings import MAX_READINGS
from rindline_schema.problems import Problem, make_problem
from rindline_schema.registers import Sensor

__all__ = ["Readings"]


class _Batch(msgspec.Struct, forbid_unknown_fields=True):
    """A ``ReadingBatch`` whose readings are judged one by one."""

    readings: list[msgspec.Raw]


class Readings:
    """Readings by sensor and time, as they were told; values rounded to 0.001."""

    def __init__(self, record: Record, clock: Clock) -> None:
        self._record = record
        self._clock = clock
        self.kept: dict[tuple[str, datetime], Reading] = {}

    def tell(self, body: bytes) -> ReadingsAnswer | Problem:
        """Keep a batch, or say why not."""
        try:
            batch = msgspec.json.decode(body, type=_Batch)
        except msgspec.MsgspecError as error:
            return make_problem("malformed", str(error))
        if not 1 <= len(batch.readings) <= MAX_READINGS:
            return make_problem("malformed", f"{len(batch.readings)} readings in one batch")
        recorded = repeated = 0
        refused = []
        for index, raw in enumerate(batch.readings):
            new = self._keep(bytes(raw))
            if isinstance(new, Problem):
                refused.append(RefusedReading(index=index, problem=new))
            else:
                recorded += new
                repeated += not new
        return ReadingsAnswer(recorded=recorded, repeated=repeated, refused=refused)

    def _keep(self, body: bytes) -> bool | Problem:
        """Keep one reading; False if it is here already."""
        try:
            reading = msgspec.json.decode(body, type=Reading)
        except msgspec.MsgspecError as error:
            return make_problem("malformed", str(error))
        if reading.temperature_c is None and reading.humidity_pct is None:
            return make_problem("not_valid", "neither temperature_c nor humidity_pct is given")
        rounded = msgspec.structs.replace(
            reading,
            temperature_c=_rounded(reading.temperature_c),
            humidity_pct=_rounded(reading.humidity_pct),
        )
        # Times with different offsets that are the same moment are equal, and one key.
        known = self.kept.setdefault((reading.sensor, reading.at), rounded)
        if _values(known) != _values(rounded):
            return make_problem(
                "reading_differs", f"{reading.sensor} at {reading.at.isoformat()} was told before"
            )
        return known is rounded

    def sensors(self, limit: int, start: int) -> SensorPage:
        """List the sensors that are declared, with their last readings; it doubts none."""
        entries = [
            registered
            for (register, _), registered in sorted(self._record.entries.items())
            if register == "sensor"
        ]
        page = entries[start : start + limit]
        end = start + limit
        return SensorPage(
            sensors=[
                self._state(one.entry, one.since) for one in page if isinstance(one.entry, Sensor)
            ],
            as_of=len(self._record.events),
            next_cursor=str(end) if end < len(entries) else None,
        )

    def _state(self, sensor: Sensor, since: datetime) -> SensorState:
        own = [reading for (code, _), reading in self.kept.items() if code == sensor.code]
        last = max(own, key=lambda reading: reading.at, default=None)
        room = self._record.entries.get(("room", sensor.room))
        silent = (self._clock.now() - last.at).total_seconds() / 60 if last else None
        return SensorState(
            sensor=sensor.code,
            name=sensor.name,
            room=sensor.room,
            site=getattr(room.entry, "site", None) if room else None,
            since=since,
            offset_c=sensor.offset_c,
            offset_humidity_pct=sensor.offset_humidity_pct,
            last_at=last.at if last else None,
            last_temperature_c=last.temperature_c if last else None,
            last_humidity_pct=last.humidity_pct if last else None,
            silent_minutes=silent,
        )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _values(reading: Reading) -> tuple[float | None, float | None]:
    return reading.temperature_c, reading.humidity_pct
