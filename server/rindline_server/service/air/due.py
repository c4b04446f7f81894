"""What must be rolled up anew: marked in the very transaction that makes it due.

Readings change the air between them and the next reading, a longest gap away at most. A sensor
declared elsewhere, or with other offsets, changes the air of the rooms it hung and hangs in from
the declaration's time to the next one's; limits declared anew change their room's. In each case
only hours near a reading are marked: in others nothing is observed.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import TypeVar

from rindline_server.calc.air import HOUR_US, AirRule
from rindline_server.ledger.hanging import FIRST_US, LAST_US, hangings, hangings_of, limits_of
from rindline_server.ledger.world import Registers
from rindline_server.store import ReadingRow, ReadTransaction, WriteTransaction

__all__ = ["mark_all", "mark_declared", "mark_readings"]

_T = TypeVar("_T")

_Span = tuple[int, int]
_Marks = defaultdict[str, list[_Span]]


def mark_readings(tx: WriteTransaction, rows: Iterable[ReadingRow], rule: AirRule) -> None:
    """Mark what new readings change."""
    times: defaultdict[str, list[int]] = defaultdict(list)
    for row in rows:
        times[row.sensor].append(row.at_us)
    marks: _Marks = defaultdict(list)
    for sensor, told in times.items():
        told.sort()
        runs = _runs(told, 2 * rule.longest_gap_us)
        tx.mark_doubts_due(sensor, [_hours(*run) for run in runs])
        for there in hangings_of(tx.registers, sensor):
            for first_us, last_us in runs:
                _mark(
                    marks[there.room],
                    max(first_us - rule.longest_gap_us, there.from_us),
                    min(last_us + rule.longest_gap_us, there.until_us),
                )
    for room, hours in marks.items():
        tx.mark_due(room, hours)


def mark_declared(
    tx: WriteTransaction,
    before: Registers,
    after: Registers,
    changed: Iterable[tuple[str, str]],
    rule: AirRule,
) -> None:
    """Mark what changes with register entries, given as (register, code)."""
    marks: _Marks = defaultdict(list)
    for register, code in sorted(set(changed)):
        if register == "sensor":
            _mark_sensor(tx, code, before, after, rule, marks)
        elif register == "room":
            _mark_room(tx, code, before, after, rule, marks)
    for room, hours in marks.items():
        tx.mark_due(room, hours)


def mark_all(tx: WriteTransaction, rule: AirRule) -> None:
    """Mark everything: all readings, also those of sensors that nobody declares any more."""
    sensors = tx.sensors_read()
    for sensor in sensors:
        span = tx.reading_span(sensor, FIRST_US, LAST_US)
        if span is not None:
            tx.mark_doubts_due(sensor, [_hours(*span)])
    mark_declared(tx, {}, tx.registers, [("sensor", code) for code in sensors], rule)


def _mark_sensor(
    tx: ReadTransaction,
    sensor: str,
    before: Registers,
    after: Registers,
    rule: AirRule,
    marks: _Marks,
) -> None:
    was, now = (
        [(one.from_us, one.until_us, (one.room, one.offset_c, one.offset_pct)) for one in known]
        for known in (hangings_of(before, sensor), hangings_of(after, sensor))
    )
    for from_us, until_us, old, new in _differences(was, now):
        hours: list[_Span] = []
        _mark_observed(tx, sensor, from_us, until_us, rule, hours)
        for there in {one[0] for one in (old, new) if one is not None}:
            marks[there] += hours


def _mark_room(
    tx: ReadTransaction,
    room: str,
    before: Registers,
    after: Registers,
    rule: AirRule,
    marks: _Marks,
) -> None:
    changed = _differences(limits_of(before, room), limits_of(after, room))
    there = hangings(after, room) if changed else []
    for from_us, until_us, _, _ in changed:
        for one in there:
            begin_us, end_us = max(from_us, one.from_us), min(until_us, one.until_us)
            if begin_us < end_us:
                _mark_observed(tx, one.sensor, begin_us, end_us, rule, marks[room])


def _mark_observed(
    tx: ReadTransaction,
    sensor: str,
    from_us: int,
    until_us: int,
    rule: AirRule,
    hours: list[_Span],
) -> None:
    """Mark the hours of a time in which a sensor may have been observed."""
    near = from_us - rule.longest_gap_us, until_us + rule.longest_gap_us
    span = tx.reading_span(sensor, *near)
    if span is not None:
        first_us, last_us = span[0] - rule.longest_gap_us, span[1] + rule.longest_gap_us
        _mark(hours, max(first_us, near[0]), min(last_us, near[1]))


def _differences(
    was: Sequence[tuple[int, int, _T]], now: Sequence[tuple[int, int, _T]]
) -> list[tuple[int, int, _T | None, _T | None]]:
    """Give the times in which two courses of spans differ, with what was and what is."""
    points = sorted({at for one in (*was, *now) for at in one[:2]})
    found = []
    for from_us, until_us in pairwise(points):
        old, new = _at(was, from_us), _at(now, from_us)
        if old != new:
            found.append((from_us, until_us, old, new))
    return found


def _at(spans: Sequence[tuple[int, int, _T]], at_us: int) -> _T | None:
    return next((what for begin, end, what in spans if begin <= at_us < end), None)


def _runs(times: Sequence[int], apart_us: int) -> list[_Span]:
    """Put sorted times together into spans that lie further apart than this."""
    begins = [times[0], *(after for one, after in pairwise(times) if after - one > apart_us)]
    ends = [*(one for one, after in pairwise(times) if after - one > apart_us), times[-1]]
    return list(zip(begins, ends, strict=True))


def _mark(hours: list[_Span], from_us: int, until_us: int) -> None:
    if from_us <= until_us:
        hours.append(_hours(from_us, until_us))


def _hours(from_us: int, until_us: int) -> _Span:
    """Give the hours from the one that holds a moment to before the one behind another's."""
    return from_us // HOUR_US, until_us // HOUR_US + 1
