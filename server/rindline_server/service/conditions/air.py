"""The air along the paths of a lot: each time in a room is read once, whichever paths share it."""

from bisect import bisect_left
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Literal, NamedTuple

from msgspec.structs import replace

from rindline_schema.answers import (
    AirFigures,
    Doubt,
    HourOfAir,
    SensorSpan,
    UnobservedSpan,
)
from rindline_server.calc.air import HOUR_US, AirRule, Tally, merge
from rindline_server.ledger.hanging import hangings
from rindline_server.ledger.times import from_us as moment
from rindline_server.service.air.doubts import doubts_over
from rindline_server.service.air.figures import RoomAir, air_figures, series_of, unobserved_of
from rindline_server.service.air.hours import DAY_US, AirPiece, air_of, days_over, hours_over
from rindline_server.service.air.told import sensors_over
from rindline_server.service.conditions.way import RoomTime
from rindline_server.store import DoubtRow, ReadTransaction

__all__ = ["PathAir"]


class _Read(NamedTuple):
    """A time in a room, as long as any path needs it, and all that is known of its air."""

    from_us: int
    until_us: int
    pieces: list[AirPiece]
    starts: list[int]
    sensors: list[SensorSpan]
    doubts: list[Doubt]


class PathAir:
    """The air of all the times that some paths spent in rooms."""

    def __init__(
        self,
        snap: ReadTransaction,
        times: Iterable[RoomTime],
        rule: AirRule,
        base_c: float | None,
        step: Literal["none", "hours", "days"],
    ) -> None:
        """Read the air of these times; those that touch or overlap in a room in one go.

        ``step`` is that of :meth:`series`.
        """
        self._snap = snap
        self._rule = rule
        self._base_c = base_c
        self._step = step
        self._tallies: dict[tuple[str, int, int], Tally] = {}
        self._edges: dict[tuple[str, int, int], list[AirPiece]] = {}
        spans: dict[str, list[tuple[int, int]]] = {}
        for time in times:
            if time.room is not None:
                spans.setdefault(time.room, []).append((time.from_us, time.until_us))
        # Asked for all rooms at once: each statement takes as long as a room's days.
        there = [one for room in spans for one in hangings(snap.registers, room)]
        self._recorded_us = snap.recorded_at([one.event for one in there])
        self._kept_doubts = self._doubts_of({one.sensor for one in there}, spans)
        self._read: Mapping[str, list[_Read]] = {
            room: [self._reading(room, *span) for span in _joined(of_room)]
            for room, of_room in spans.items()
        }

    def _doubts_of(
        self, sensors: Collection[str], spans: Mapping[str, Sequence[tuple[int, int]]]
    ) -> list[DoubtRow]:
        if not sensors:
            return []
        whole = [span for of_room in spans.values() for span in of_room]
        first_us, last_us = min(begin for begin, _ in whole), max(end for _, end in whole)
        return self._snap.doubts(sorted(sensors), first_us, last_us)

    def _reading(self, room: str, from_us: int, until_us: int) -> _Read:
        over = hours_over if self._step == "hours" else days_over
        pieces = over(self._snap, room, from_us, until_us, self._rule, self._base_c)
        return _Read(
            from_us,
            until_us,
            pieces,
            [piece.from_us for piece in pieces],
            sensors_over(self._snap, room, from_us, until_us, self._recorded_us),
            doubts_over(self._snap, room, from_us, until_us, self._kept_doubts),
        )

    def _around(self, room: str, from_us: int) -> _Read:
        return next(r for r in reversed(self._read[room]) if r.from_us <= from_us)

    # --- one time in a room -------------------------------------------------------------------

    def pieces(self, time: RoomTime) -> list[AirPiece]:
        """Give a time's air by hours or days, as it was read; none where no room was told."""
        if time.room is None:
            return []
        read = self._around(time.room, time.from_us)
        first_us, last_us = time.from_us, time.until_us
        before: list[AirPiece] = []
        after: list[AirPiece] = []
        if first_us != read.from_us:
            first_us = min(-(-first_us // DAY_US) * DAY_US, last_us)
            before = self._edge(time.room, time.from_us, first_us)
        if last_us != read.until_us:
            last_us = max(last_us // DAY_US * DAY_US, first_us)
            after = self._edge(time.room, last_us, time.until_us)
        whole = read.pieces[bisect_left(read.starts, first_us) : bisect_left(read.starts, last_us)]
        return [*before, *whole, *after]

    def _edge(self, room: str, from_us: int, until_us: int) -> list[AirPiece]:
        """Give a part of a day."""
        if from_us >= until_us:
            return []
        key = (room, from_us, until_us)
        if key not in self._edges:
            self._edges[key] = hours_over(self._snap, *key, self._rule, self._base_c)
        return self._edges[key]

    def _tally(self, room: str, time: RoomTime) -> Tally:
        key = (room, time.from_us, time.until_us)
        if key not in self._tallies:
            self._tallies[key] = air_of(self.pieces(time), time.from_us, time.until_us)
        return self._tallies[key]

    # --- several ------------------------------------------------------------------------------

    def _parts(self, times: Iterable[RoomTime]) -> list[RoomAir]:
        return [RoomAir(t.room, self._tally(t.room, t)) for t in times if t.room is not None]

    def figures(self, times: Sequence[RoomTime], from_us: int, until_us: int) -> AirFigures:
        """Give the figures of a time that these times in rooms lie in, in order."""
        doubts = self.doubts(times)
        rooms = _rooms_joined(self._parts(times))
        return air_figures(rooms, from_us, until_us, doubts, self._rule, self._base_c)

    def sums(self, times: Iterable[RoomTime]) -> Tally:
        """Add up these times in rooms."""
        return merge(part.tally for part in self._parts(times))

    def series(self, times: Iterable[RoomTime]) -> list[HourOfAir]:
        """Give the air along these times, hour by hour or day by day."""
        if self._step == "none":
            return []
        return [
            hour
            for time in times
            if time.room is not None
            for hour in series_of(self.pieces(time), self._step, time.room)
        ]

    def unobserved(self, times: Iterable[RoomTime]) -> list[UnobservedSpan]:
        """Give when there was no air: no reading, no room told, or away."""
        spans: list[UnobservedSpan] = []
        for time in times:
            if time.room is not None:
                found = unobserved_of(self._tally(time.room, time), time.room)
            else:
                found = [_without_room(time)]
            for span in found:
                last = spans[-1] if spans else None
                if last and (last.why, last.room, last.until_at) == (
                    span.why,
                    span.room,
                    span.from_at,
                ):
                    hours = last.hours + span.hours
                    spans[-1] = replace(last, until_at=span.until_at, hours=hours)
                else:
                    spans.append(span)
        return spans

    def doubts(self, times: Iterable[RoomTime]) -> list[Doubt]:
        """Give the readings in doubt at these times, cut to them; in order of time."""
        return [
            replace(doubt, from_at=max(doubt.from_at, begin), until_at=min(doubt.until_at, end))
            for read, begin, end in self._without_breaks(times)
            for doubt in read.doubts
            if doubt.from_at < end and doubt.until_at > begin
        ]

    def sensors(self, times: Iterable[RoomTime]) -> list[SensorSpan]:
        """Give the sensors whose readings these times rest on, cut to them; in order of time."""
        return [
            replace(span, from_at=max(span.from_at, begin), until_at=min(span.until_at, end))
            for read, begin, end in self._without_breaks(times)
            for span in read.sensors
            if span.from_at < end and span.until_at > begin
        ]

    def _without_breaks(
        self, times: Iterable[RoomTime]
    ) -> Iterator[tuple[_Read, datetime, datetime]]:
        """Go through times in rooms; what a lot and the one before spent in a room is one time."""
        last: tuple[str, int, int] | None = None
        for time in times:
            if time.room is None:
                continue
            begin_us = time.from_us
            if last is not None:
                if (last[0], last[2]) == (time.room, begin_us):
                    begin_us = last[1]
                else:
                    yield self._around(*last[:2]), moment(last[1]), moment(last[2])
            last = (time.room, begin_us, time.until_us)
        if last is not None:
            yield self._around(*last[:2]), moment(last[1]), moment(last[2])


def _without_room(time: RoomTime) -> UnobservedSpan:
    return UnobservedSpan(
        why="away" if time.site is None else "no_room",
        from_at=moment(time.from_us),
        until_at=moment(time.until_us),
        hours=round((time.until_us - time.from_us) / HOUR_US, 6),
    )


def _joined(spans: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    joined: list[tuple[int, int]] = []
    for begin, end in sorted(spans):
        if joined and begin <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((begin, end))
    return joined


def _rooms_joined(parts: Sequence[RoomAir]) -> list[RoomAir]:
    """Put together what follows in the same room, so that a spell is not cut in two."""
    joined: list[RoomAir] = []
    for part in parts:
        if joined and joined[-1].room == part.room:
            joined[-1] = RoomAir(part.room, merge([joined[-1].tally, part.tally]))
        else:
            joined.append(part)
    return joined
