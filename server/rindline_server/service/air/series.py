"""The readings of the sensors that hang in a room, as series that may be joined by lines.

A line joins two readings only if the sensor hung in the room all the time between them. Where
only its offset changes, the line between the raw readings goes on, and bends by the offset.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from operator import itemgetter

from rindline_server.calc.air import Sample, sample_at, sample_of
from rindline_server.ledger.hanging import Hanging, hangings, stays
from rindline_server.store import ReadTransaction

__all__ = ["room_series"]

_Shown = tuple[int, int | None, int | None]


def room_series(
    snap: ReadTransaction, room: str, from_us: int, until_us: int, longest_gap_us: int
) -> tuple[list[list[Sample]], list[int]]:
    """Give what a room's air from one time until another is made of, with the offsets added.

    First the series: for each time with the same offsets that a sensor hung there its samples,
    and the nearest within a longest gap beyond both ends, so that there is something to
    interpolate from.
    Second the times of all readings from ``from_us`` on and before ``until_us``, in order.
    """
    series: list[list[Sample]] = []
    times: list[int] = []
    for stay in stays(hangings(snap.registers, room)):
        first_us = max(stay[0].from_us, from_us - longest_gap_us)
        last_us = min(stay[-1].until_us - 1, until_us + longest_gap_us)
        if max(first_us, from_us) > min(last_us, until_us):
            continue
        shown = snap.readings(stay[0].sensor, first_us, last_us)
        times.extend(at_us for at_us, _, _ in shown if from_us <= at_us < until_us)
        series.extend(_with_offsets(_needed(shown, from_us, until_us), stay, longest_gap_us))
    times.sort()
    return series, times


def _needed(shown: Sequence[_Shown], from_us: int, until_us: int) -> Sequence[_Shown]:
    """Leave out what lies beyond the nearest reading of each quantity before and after a time.

    No line to a point within the time begins or ends there, and of a sensor read every minute
    those are most.
    """
    first = bisect_left(shown, from_us, key=itemgetter(0))
    last = bisect_right(shown, until_us, lo=first, key=itemgetter(0))
    before, after = range(first - 1, -1, -1), range(last, len(shown))
    begins = [next((i for i in before if shown[i][what] is not None), first) for what in (1, 2)]
    ends = [next((i for i in after if shown[i][what] is not None), last - 1) for what in (1, 2)]
    return shown[min(begins) : max(ends) + 1]


def _with_offsets(
    shown: Sequence[_Shown], stay: Sequence[Hanging], longest_gap_us: int
) -> Iterator[list[Sample]]:
    """Add to each part of a stay its offsets; at a change both parts get what was shown then."""
    if len(stay) == 1:
        yield _samples(shown, stay[0])
        return
    joints = [_joint(shown, part.from_us, longest_gap_us) for part in stay[1:]]
    for part, begin, end in zip(stay, [None, *joints], [*joints, None], strict=True):
        own = [one for one in shown if part.from_us <= one[0] < part.until_us]
        if begin is not None and own and own[0][0] == begin.at_us:
            del own[0]
        yield [
            *([_shifted(begin, part)] if begin is not None else ()),
            *_samples(own, part),
            *([_shifted(end, part)] if end is not None else ()),
        ]


def _samples(shown: Sequence[_Shown], part: Hanging) -> list[Sample]:
    offset_c, offset_pct = part.offset_c, part.offset_pct
    return [sample_of(at_us, c, pct, offset_c, offset_pct) for at_us, c, pct in shown]


def _joint(shown: Sequence[_Shown], at_us: int, longest_gap_us: int) -> Sample | None:
    """Give what a sensor would have shown at a time, if its readings are near enough."""
    near = [one for one in shown if abs(one[0] - at_us) <= longest_gap_us]
    return sample_at([sample_of(*one) for one in near], at_us, longest_gap_us)


def _shifted(sample: Sample, part: Hanging) -> Sample:
    """Add the offsets to what was shown; humidity stays within 0 and 100 %."""
    at_us, c, pct = sample
    return Sample(
        at_us,
        None if c is None else c + part.offset_c,
        None if pct is None else min(100.0, max(0.0, pct + part.offset_pct)),
    )
