"""The parts of the bench about air: readings told and worked off, the conditions of a wheel."""

import os
from collections.abc import Callable
from contextlib import ExitStack, closing
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from time import perf_counter
from typing import NamedTuple

from rindline_schema.answers import Reading
from rindline_schema.params import ConditionsParams
from rindline_server.service import Service
from tests.bench.air_records import BATCH, MANAGER, AirRecord, air_service, tell
from tests.bench.air_story import END, ROOMS_OF_WHEEL, readings
from tests.bench.bare_air import BareHours, BareReadings, wait_until_rolled_up
from tests.bench.callers import Callers
from tests.bench.measuring import Measured, Part, measure_part
from tests.bench.memory import Memory
from tests.bench.serving import Server, serving

__all__ = ["AirLoad", "measure_air"]

_AGAINST_ROWS = "rows inserted, 10,000 a commit"


class AirLoad(NamedTuple):
    """How much is done; the same for both sizes of record.

    ``weeks``: how long the wheel lives, measured every minute. ``readings``: how many are told
    in all rounds that count, on each record and each way. ``asked``: how often a round asks.
    """

    rounds: int = 5
    weeks: int = 12
    readings: int = 1_000_000
    asked: int = 20


@dataclass(eq=False)
class _Side:
    """One record and what answers for it: a service in this process, then a server.

    Readings that are told go on where the last ended.
    """

    record: AirRecord
    memory: Memory
    service: Service | None = None
    server: Server | None = None
    told_minutes: int = 0

    def next_readings(self, count: int) -> list[Reading]:
        """Give so many new readings, every minute in the wheel's rooms after its sale."""
        minutes = count // ROOMS_OF_WHEEL
        begin = END + timedelta(minutes=self.told_minutes)
        self.told_minutes += minutes
        until = begin + timedelta(minutes=minutes)
        return list(readings(range(ROOMS_OF_WHEEL), begin, until, 1))


def measure_air(
    records: tuple[AirRecord, AirRecord],
    rows: BareReadings,
    callers: Callers,
    load: AirLoad,
    folder: Path,
) -> list[Measured]:
    """Measure all parts; servers log into the folder."""
    own = Memory(os.getpid(), with_children=False)
    small, large = (_Side(record, own) for record in records)
    with ExitStack() as stack:
        hours: dict[_Side, BareHours] = {}
        for side in (small, large):
            side.service = stack.enter_context(air_service(side.record.url))
            bare = BareHours(side.record.url, side.record.stays)
            hours[side] = stack.enter_context(closing(bare))
        parts = (_conditions(hours, load), _told_to_service(rows, load))
        measured = [measure_part(part, (small, large), load.rounds) for part in parts]
    with ExitStack() as stack:
        for name, side in (("small", small), ("large", large)):
            log = folder / f"air-{name}.log"
            side.server = stack.enter_context(serving(side.record.url, log))
            side.memory = side.server.memory
        part = _told_over_http(rows, callers, load)
        measured.append(measure_part(part, (small, large), load.rounds))
    return measured


def _conditions(hours: dict[_Side, BareHours], load: AirLoad) -> Part[_Side]:
    def asked(side: _Side) -> float:
        assert side.service is not None
        began = perf_counter()
        for _ in range(load.asked):
            answer = side.service.conditions(MANAGER, side.record.wheel, ConditionsParams())
            (path,) = answer.paths
            if path.figures.unobserved_hours > 1 or len(path.stays) != len(side.record.stays):
                raise RuntimeError(f"the wheel's air is not whole: {path}")
        return (perf_counter() - began) / load.asked

    def fetched(side: _Side) -> float:
        return sum(hours[side].run() for _ in range(load.asked)) / load.asked

    rows = next(iter(hours.values())).hours
    return Part(
        f"conditions, {rows:,} hours",
        "s",
        "its hourly rows fetched",
        "ratio at most 3",
        asked,
        fetched,
    )


def _told_to_service(rows: BareReadings, load: AirLoad) -> Part[_Side]:
    def told(side: _Side, new: list[Reading]) -> None:
        assert side.service is not None
        for start in range(0, len(new), BATCH):
            tell(side.service, new[start : start + BATCH])

    return _telling("readings told in process", told, rows, load)


def _told_over_http(rows: BareReadings, callers: Callers, load: AirLoad) -> Part[_Side]:
    def told(side: _Side, new: list[Reading]) -> None:
        assert side.server is not None
        callers.tell_readings(side.server.address, side.record.key, new, BATCH)

    return _telling("readings told over HTTP", told, rows, load)


def _telling(
    name: str,
    told: Callable[[_Side, list[Reading]], object],
    rows: BareReadings,
    load: AirLoad,
) -> Part[_Side]:
    """Give a part that tells readings and waits until their hours are rolled up."""
    each = load.readings // load.rounds // ROOMS_OF_WHEEL * ROOMS_OF_WHEEL
    newest: dict[_Side, list[Reading]] = {}

    def ours(side: _Side) -> float:
        newest[side] = side.next_readings(each)
        began = perf_counter()
        told(side, newest[side])
        wait_until_rolled_up(side.record.url)
        return each / (perf_counter() - began)

    def bare(side: _Side) -> float:
        return each / rows.run(newest[side], BATCH)

    return Part(name, "1/s", _AGAINST_ROWS, "20,000 a second, rolled up", ours, bare)
