"""What the air of a room rests on: which sensors hung there, and which limits it had."""

from collections.abc import Mapping

from rindline_schema.answers import RoomLimits, SensorSpan
from rindline_server.ledger.apply import AHEAD_US
from rindline_server.ledger.hanging import hangings, limits_of
from rindline_server.ledger.times import from_us as moment
from rindline_server.store import ReadTransaction

__all__ = ["limits_over", "sensors_over"]


def sensors_over(
    snap: ReadTransaction,
    room: str,
    from_us: int,
    until_us: int,
    recorded_us: Mapping[str, int] | None = None,
) -> list[SensorSpan]:
    """Give the sensors that hung in a room from one time until another, cut to it.

    By sensor and time; where an offset changed, a span of its own. ``told_later`` looks at the
    readings from that time only. ``recorded_us``: when the declarations were recorded, if known.
    """
    there = [
        one._replace(from_us=max(one.from_us, from_us), until_us=min(one.until_us, until_us))
        for one in hangings(snap.registers, room)
        if one.from_us < until_us and one.until_us > from_us
    ]
    if recorded_us is None:
        recorded_us = snap.recorded_at([one.event for one in there])
    spans = []
    for one in there:
        told_us = recorded_us[one.event]
        # No reading is recorded that lies further ahead of the clock.
        last_us = min(one.until_us - 1, told_us + AHEAD_US)
        spans.append(
            SensorSpan(
                sensor=one.sensor,
                from_at=moment(one.from_us),
                until_at=moment(one.until_us),
                offset_c=one.offset_c,
                offset_humidity_pct=one.offset_pct,
                told_at=moment(told_us),
                told_later=last_us >= one.from_us
                and snap.told_before(one.sensor, one.from_us, last_us, told_us),
            )
        )
    return spans


def limits_over(snap: ReadTransaction, room: str, from_us: int, until_us: int) -> list[RoomLimits]:
    """Give the limits a room had from one time until another, cut to it, in order."""
    return [
        RoomLimits(
            from_at=moment(max(begin_us, from_us)),
            until_at=moment(min(end_us, until_us)),
            least_c=limits.least_c,
            most_c=limits.most_c,
            least_humidity_pct=limits.least_pct,
            most_humidity_pct=limits.most_pct,
        )
        for begin_us, end_us, limits in limits_of(snap.registers, room)
        if begin_us < until_us and end_us > from_us
    ]
