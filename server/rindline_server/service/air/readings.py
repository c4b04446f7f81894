"""Readings told: each is recorded, there already, or refused for itself; a bad one harms no other.

A reading is what its sensor showed, by sensor and time. It is no event: nothing is judged by it,
so it needs no place in the ledger's order.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from itertools import groupby

from rindline_schema.answers import Doubt, Reading, ReadingsAnswer, RefusedReading
from rindline_schema.problems import Fault, Problem, make_problem
from rindline_schema.registers import Room
from rindline_server.calc.air import AirRule, doubts, sample_of
from rindline_server.ledger.apply import AHEAD_US
from rindline_server.ledger.hanging import hangings_of
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.times import from_us, to_us
from rindline_server.ledger.world import Registers
from rindline_server.service.air.due import mark_readings
from rindline_server.service.callers import Caller
from rindline_server.store import ReadingRow, Store

__all__ = ["tell_readings"]

_Key = tuple[str, int]
_Judge = Callable[[ReadingRow], Problem | None]


def tell_readings(
    store: Store,
    caller: Caller,
    items: Sequence[Reading | Problem],
    rule: AirRule,
    now: datetime,
) -> ReadingsAnswer:
    """Tell readings; a problem among them stands for one that could not be read.

    What the answer calls recorded is on disk.
    """
    batch = _Batch(items, to_us(now))
    with store.writing() as tx:
        batch.judge(_judge_for(caller, tx.registers))
        told = tx.tell_readings(list(batch.first.values()))
        mark_readings(tx, told.new, rule)
    batch.compare(told.standing)
    return ReadingsAnswer(
        recorded=len(told.new),
        repeated=len(told.repeated) + batch.repeated,
        refused=[
            RefusedReading(index=index, problem=problem)
            for index, problem in sorted(batch.refused.items())
        ],
        doubts=_doubts([*told.new, *told.repeated]),
    )


class _Batch:
    """Readings of one request: ``first`` of each sensor and time, ``others`` told again."""

    def __init__(self, items: Sequence[Reading | Problem], now_us: int) -> None:
        self.first: dict[_Key, ReadingRow] = {}
        self.repeated = 0
        self.refused: dict[int, Problem] = {}
        self._index: dict[_Key, int] = {}
        self._others: list[tuple[int, ReadingRow]] = []
        for index, item in enumerate(items):
            if isinstance(item, Problem):
                self.refused[index] = item
                continue
            row = _row(item, now_us)
            problem = _fault(row, now_us)
            if problem is not None:
                self.refused[index] = problem
            elif self.first.setdefault(row[:2], row) is row:
                self._index[row[:2]] = index
            else:
                self._others.append((index, row))

    def judge(self, judge: _Judge) -> None:
        """Take out what this judge refuses; all of one sensor and time fare alike."""
        gone: dict[_Key, Problem] = {}
        for key, row in self.first.items():
            problem = judge(row)
            if problem is not None:
                gone[key] = self.refused[self._index[key]] = problem
        for key in gone:
            del self.first[key]
        for index, row in self._others:
            if row[:2] in gone:
                self.refused[index] = gone[row[:2]]

    def compare(self, standing: Iterable[ReadingRow]) -> None:
        """Refuse what differs from what stands: from the record, or from the first told here."""
        differing = {row[:2]: row for row in standing}
        for key, row in differing.items():
            self.refused[self._index[key]] = _differs(row)
        for index, row in self._others:
            stands = differing.get(row[:2]) or self.first.get(row[:2])
            if stands is None:
                continue
            if stands[2:4] == row[2:4]:
                self.repeated += 1
            else:
                self.refused[index] = _differs(stands)


def _row(reading: Reading, now_us: int) -> ReadingRow:
    c, pct = reading.temperature_c, reading.humidity_pct
    return ReadingRow(
        reading.sensor,
        to_us(reading.at),
        None if c is None else round(c * 1000),
        None if pct is None else round(pct * 1000),
        now_us,
    )


def _fault(row: ReadingRow, now_us: int) -> Problem | None:
    if row.c_milli is None and row.humidity_milli is None:
        fault = Fault(pointer="", detail="Neither temperature_c nor humidity_pct is given")
        return make_problem("not_valid", f"{fault.detail}.", faults=[fault])
    if row.at_us > now_us + AHEAD_US:
        return make_problem(
            "ahead_of_clock", f"{from_us(row.at_us).isoformat()} has not come yet here"
        )
    return None


def _differs(stands: ReadingRow) -> Problem:
    c = None if stands.c_milli is None else f"{stands.c_milli / 1000:g} degrees"
    pct = None if stands.humidity_milli is None else f"{stands.humidity_milli / 1000:g} %"
    shown = " and ".join(part for part in (c, pct) if part)
    at = from_us(stands.at_us).isoformat()
    return make_problem("reading_differs", f"{stands.sensor} showed {shown} at {at}")


# --- who may tell of which sensor -----------------------------------------------------------------


def _judge_for(caller: Caller, registers: Registers) -> _Judge:
    """Make the judge of rows: is the sensor declared, and hung it then at the caller's site?"""
    sites: dict[str, tuple[list[int], list[str | None]]] = {}
    bound = caller.site if caller.role != "manager" else None

    def judge(row: ReadingRow) -> Problem | None:
        if row.sensor not in sites:
            spans = _sites(registers, row.sensor)
            sites[row.sensor] = [one[0] for one in spans], [one[1] for one in spans]
        begins, there = sites[row.sensor]
        if not begins:
            return make_problem("not_declared", f"no sensor {row.sensor!r} is declared")
        if bound is None:
            return None
        site = there[bisect_right(begins, row.at_us) - 1]
        if site == bound:
            return None
        return make_problem(
            "not_your_site", f"this key tells readings of {bound}; {row.sensor} hung at {site} then"
        )

    return judge


def _sites(registers: Registers, sensor: str) -> list[tuple[int, str | None]]:
    """Give from when on a sensor hung at which site."""
    spans: list[tuple[int, str | None]] = []
    for there in hangings_of(registers, sensor):
        declared = [version.at_us for version in registers.get(("room", there.room), ())]
        cuts = [at_us for at_us in declared if there.from_us < at_us < there.until_us]
        for at_us in (there.from_us, *cuts):
            room = entry_at(registers, "room", there.room, at_us)
            spans.append((at_us, room.site if isinstance(room, Room) else None))
    return spans


# --- what is hard to believe ----------------------------------------------------------------------


def _doubts(rows: Sequence[ReadingRow]) -> list[Doubt]:
    """Give the doubts these readings show by themselves, by time."""
    found = [
        Doubt(
            sensor=sensor,
            kind=one.kind,
            from_at=from_us(one.from_us),
            until_at=from_us(one.until_us),
            detail=one.detail,
        )
        for sensor, told in groupby(sorted(rows), key=lambda row: row.sensor)
        for one in doubts([sample_of(*row[1:4]) for row in told])
    ]
    return sorted(found, key=lambda one: (one.from_at, one.sensor, one.kind))
