"""The air of a room over a time, out of what is rolled up, or of readings where that won't do.

Whole hours are kept rolled up, and whole days of these hours. What is asked of parts of hours, of
hours that are due, and with another base of the degree-hours is computed from the readings
themselves: an answer never rests on what readings told since have overtaken.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

from rindline_server.calc.air import HOUR_US, AirRule, Tally, hourly, merge
from rindline_server.calc.air.packing import pack_spans
from rindline_server.ledger.hanging import limits_of
from rindline_server.service.air.series import room_series
from rindline_server.store import ReadTransaction

__all__ = [
    "DAY_HOURS",
    "DAY_US",
    "AirPiece",
    "air_of",
    "air_over",
    "days_over",
    "hours_over",
    "roll_days",
    "roll_hours",
]

DAY_HOURS = 24
DAY_US = DAY_HOURS * HOUR_US
"""Days are days of UTC: 24 hours each."""

_Spans = Sequence[tuple[int, int]]

_HOURS_AT_ONCE = 7 * 24
"""How many hours' readings are held in memory at once."""


class AirPiece(NamedTuple):
    """An hour of a room's air, the part of one that was asked for, or a whole day."""

    from_us: int
    until_us: int
    tally: Tally


def roll_hours(
    snap: ReadTransaction, room: str, from_hour: int, until_hour: int, rule: AirRule
) -> list[tuple[int, Tally]]:
    """Compute hours (counted from 1970 UTC) from the readings: those with something in them."""
    pieces = _from_readings(snap, room, from_hour * HOUR_US, until_hour * HOUR_US, rule)
    return [(piece.from_us // HOUR_US, piece.tally) for piece in pieces]


def roll_days(
    snap: ReadTransaction, room: str, from_day: int, until_day: int
) -> list[tuple[int, Tally]]:
    """Add up days (counted from 1970 UTC) of their hours: those with something in them."""
    hours = snap.air_hours(room, (from_day * DAY_HOURS, until_day * DAY_HOURS))
    return [
        (day, air_of([_piece(*one) for one in of_day], day * DAY_US, (day + 1) * DAY_US))
        for day, of_day in groupby(hours, key=lambda one: one[0] // DAY_HOURS)
    ]


def _piece(hour: int, tally: Tally) -> AirPiece:
    return AirPiece(hour * HOUR_US, (hour + 1) * HOUR_US, tally)


def air_over(
    snap: ReadTransaction,
    room: str,
    from_us: int,
    until_us: int,
    rule: AirRule,
    base_c: float | None = None,
) -> Tally:
    """Give the air of a room from one time until another as a single tally.

    With a ``base_c`` other than the rule's, all of it is computed from the readings: that takes
    some hundred times as long.
    """
    return air_of(days_over(snap, room, from_us, until_us, rule, base_c), from_us, until_us)


def air_of(pieces: Sequence[AirPiece], from_us: int, until_us: int) -> Tally:
    """Add up what :func:`days_over` gives for a time; what is not among it was not observed."""
    holes: list[tuple[int, int]] = []
    here_us = from_us
    for piece in pieces:
        if piece.from_us > here_us:
            holes.append((here_us, piece.from_us))
        here_us = piece.until_us
    if here_us < until_us:
        holes.append((here_us, until_us))
    tallies = [piece.tally for piece in pieces]
    if holes:
        tallies.append(Tally(unseen=pack_spans(holes)))
    return merge(tallies)


def days_over(
    snap: ReadTransaction,
    room: str,
    from_us: int,
    until_us: int,
    rule: AirRule,
    base_c: float | None = None,
) -> list[AirPiece]:
    """Give the air of a room in few pieces, in order: whole days, and hours before and after.

    Days with an hour that is due are given by their hours. Otherwise as :func:`hours_over`.
    """
    first, last = -(-from_us // DAY_US), until_us // DAY_US
    if first >= last or (base_c is not None and base_c != rule.base_c):
        return hours_over(snap, room, from_us, until_us, rule, base_c)
    in_hours = _days_touched(snap.due_hours(room, first * DAY_HOURS, last * DAY_HOURS))
    begin, end = -(-from_us // HOUR_US), until_us // HOUR_US
    spans = [
        (begin, first * DAY_HOURS),
        *((day * DAY_HOURS, behind * DAY_HOURS) for day, behind in in_hours),
        (last * DAY_HOURS, end),
    ]
    whole = _whole_hours(snap, room, spans, rule) + _whole_days(snap, room, first, last, in_hours)
    return [
        *_from_readings(snap, room, from_us, begin * HOUR_US, rule),
        *sorted(whole, key=attrgetter("from_us")),
        *_from_readings(snap, room, end * HOUR_US, until_us, rule),
    ]


def _days_touched(hours: _Spans) -> list[tuple[int, int]]:
    """Give the spans of days that hold these spans of hours, in order."""
    days: list[tuple[int, int]] = []
    for begin, end in hours:
        first, behind = begin // DAY_HOURS, -(-end // DAY_HOURS)
        if days and first <= days[-1][1]:
            days[-1] = (days[-1][0], behind)
        else:
            days.append((first, behind))
    return days


def _whole_days(
    snap: ReadTransaction, room: str, first: int, last: int, without: _Spans
) -> list[AirPiece]:
    """Give whole days but for some spans of them, which are in order."""
    begins = [first, *(behind for _, behind in without)]
    ends = [*(day for day, _ in without), last]
    days = snap.air_days(room, *zip(begins, ends, strict=True))
    return [AirPiece(day * DAY_US, (day + 1) * DAY_US, tally) for day, tally in days]


def hours_over(
    snap: ReadTransaction,
    room: str,
    from_us: int,
    until_us: int,
    rule: AirRule,
    base_c: float | None = None,
) -> list[AirPiece]:
    """Give the air of a room hour by hour, in order: the hours with a reading or a line in them.

    The first and the last are cut to the time asked for. ``base_c`` as for :func:`air_over`.
    """
    if from_us >= until_us:
        return []
    first, last = -(-from_us // HOUR_US), until_us // HOUR_US
    if base_c is not None and base_c != rule.base_c:
        asked = rule._replace(base_c=base_c)
        return list(_from_readings(snap, room, from_us, until_us, asked))
    if first >= last:
        return list(_from_readings(snap, room, from_us, until_us, rule))
    return [
        *_from_readings(snap, room, from_us, first * HOUR_US, rule),
        *_whole_hours(snap, room, [(first, last)], rule),
        *_from_readings(snap, room, last * HOUR_US, until_us, rule),
    ]


def _whole_hours(snap: ReadTransaction, room: str, spans: _Spans, rule: AirRule) -> list[AirPiece]:
    """Give the whole hours of some spans, which are in order."""
    hours = snap.air_hours(room, *spans)
    due = [one for span in spans for one in snap.due_hours(room, *span)]
    for begin, end in due:
        hours = [one for one in hours if not begin <= one[0] < end]
        hours += roll_hours(snap, room, begin, end, rule)
    if due:
        hours.sort(key=lambda one: one[0])
    return [_piece(*one) for one in hours]


def _from_readings(
    snap: ReadTransaction, room: str, from_us: int, until_us: int, rule: AirRule
) -> Iterator[AirPiece]:
    limits = limits_of(snap.registers, room)
    begin_us = from_us
    while begin_us < until_us:
        end_us = min((begin_us // HOUR_US + _HOURS_AT_ONCE) * HOUR_US, until_us)
        series, times = room_series(snap, room, begin_us, end_us, rule.longest_gap_us)
        for at_us, to_us, tally in hourly(series, limits, begin_us, end_us, rule):
            # The series hold a sample more wherever an offset changed.
            readings = bisect_left(times, to_us) - bisect_left(times, at_us)
            yield AirPiece(at_us, to_us, tally._replace(readings=readings))
        begin_us = end_us
