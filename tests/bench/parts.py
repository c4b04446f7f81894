"""The parts of the bench: each sets what the server does beside bare work of the same size."""

from collections.abc import Callable
from dataclasses import dataclass
from http.client import HTTPConnection
from itertools import count
from time import perf_counter
from typing import NamedTuple

from tests.bench.bare import BareInserts, BareTrace, bytes_a_row
from tests.bench.callers import Callers
from tests.bench.measuring import Measured, Part, measure_part
from tests.bench.memory import Memory
from tests.bench.records import Record
from tests.bench.serving import Server

__all__ = ["Load", "Side", "measure", "needs"]

_BATCH_EVENTS = 500
_TELLING_CALLERS = 16
_ASKING_CALLERS = 8
_EVENTS_A_WHEEL = 10


class Load(NamedTuple):
    """How much each round does; the same for both sizes of record."""

    rounds: int = 5
    batches: int = 8
    single_events: int = 1_600
    look_ups: int = 3_000
    traces: int = 3


def needs(load: Load) -> tuple[int, int]:
    """Give how many ripening wheels and how many portions a record must offer."""
    events = load.batches * _BATCH_EVENTS + load.single_events
    rounds = load.rounds + 1
    return rounds * (events // _EVENTS_A_WHEEL + 2), rounds * load.look_ups


@dataclass(frozen=True, eq=False)
class Side:
    """One record and the server on it."""

    record: Record
    server: Server

    @property
    def memory(self) -> Memory:
        """The server's memory."""
        return self.server.memory


def measure(
    sides: tuple[Side, Side], inserts: BareInserts, callers: Callers, load: Load
) -> list[Measured]:
    """Measure all parts."""
    parts = [
        *_telling(sides, inserts, callers, load),
        _asking(sides, callers, load),
    ]
    measured = [measure_part(part, sides, load.rounds) for part in parts]
    traces = [BareTrace(side.record.url, side.record.story.tank) for side in sides]
    try:
        measured.append(measure_part(_tracing(sides, traces, load), sides, load.rounds))
    finally:
        for trace in traces:
            trace.close()
    return measured


def _telling(
    sides: tuple[Side, Side], inserts: BareInserts, callers: Callers, load: Load
) -> list[Part[Side]]:
    shelves = {side: iter(side.record.wheels) for side in sides}
    sizes: dict[Side, int] = {}

    def told_by(side: Side, events: int, tell: Callable[..., float], how: int) -> float:
        wheels = [next(shelves[side]) for _ in range(events // _EVENTS_A_WHEEL + 1)]
        told = side.record.story.tend(wheels, events)
        seconds = tell(side.server.address, side.record.key, told, how)
        sizes[side] = bytes_a_row(side.record.url, events)
        return events / seconds

    def inserted(side: Side, events: int) -> float:
        return events / inserts.run(events, sizes[side])

    many = load.batches * _BATCH_EVENTS
    against = "rows inserted a second, 500 a commit"
    return [
        Part(
            "told in batches of 500",
            "1/s",
            against,
            "2,000 a second",
            lambda side: told_by(side, many, callers.tell_many, _BATCH_EVENTS),
            lambda side: inserted(side, many),
        ),
        Part(
            f"told one by one, {_TELLING_CALLERS} callers",
            "1/s",
            against,
            "none set",
            lambda side: told_by(side, load.single_events, callers.tell, _TELLING_CALLERS),
            lambda side: inserted(side, many),
        ),
    ]


def _asking(sides: tuple[Side, Side], callers: Callers, load: Load) -> Part[Side]:
    turns = {side: count() for side in sides}

    def request(side: Side, path: str) -> bytes:
        lines = (
            f"GET {path} HTTP/1.1",
            f"Host: {side.server.host}",
            f"Authorization: Bearer {side.record.key}",
        )
        return "\r\n".join((*lines, "", "")).encode()

    def asked(side: Side, paths: list[str]) -> float:
        requests = [request(side, path) for path in paths]
        address = (side.server.host, side.server.port)
        return len(paths) / callers.ask(address, requests, _ASKING_CALLERS)

    def origins(side: Side) -> float:
        named = side.record.portions
        start = next(turns[side]) * load.look_ups % len(named)
        some = (named[start:] + named)[: load.look_ups]
        return asked(side, [f"/v1/lots/{lot}/origin" for lot in some])

    return Part(
        f"origins, {_ASKING_CALLERS} callers",
        "1/s",
        "answers a second of /health/live",
        "ratio at least 0.15",
        origins,
        lambda side: asked(side, ["/health/live"] * load.look_ups),
    )


def _tracing(sides: tuple[Side, Side], traces: list[BareTrace], load: Load) -> Part[Side]:
    bare = dict(zip(sides, traces, strict=True))

    def traced(side: Side) -> float:
        path = f"/v1/lots/{side.record.story.tank}/trace/forward?format=ndjson"
        connection = HTTPConnection(side.server.host, side.server.port, timeout=120)
        try:
            began = perf_counter()
            for _ in range(load.traces):
                connection.request(
                    "GET", path, headers={"Authorization": f"Bearer {side.record.key}"}
                )
                answer = connection.getresponse()
                body = answer.read()
                if answer.status != 200 or b'"line":"end"' not in body[-1000:]:
                    raise RuntimeError(body[-1000:].decode())
            return (perf_counter() - began) / load.traces
        finally:
            connection.close()

    def fetched(side: Side) -> float:
        return sum(bare[side].run() for _ in range(load.traces)) / load.traces

    lots = traces[0].lots
    return Part(
        f"forward trace of {lots:,} lots",
        "s",
        "the same rows fetched and encoded",
        "ratio at most 2",
        traced,
        fetched,
    )
