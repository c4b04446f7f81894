"""The course of a room's air: from the readings of its sensors to stretches between points.

Each sensor's temperature and humidity is taken as a straight line from reading to reading. Two
readings further apart than the longest gap leave the time between unobserved, as is the time
before a sensor's first and after its last reading. The air of the room is the mean of those
sensors that are observed at the moment, temperature and humidity each by itself.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from itertools import compress, pairwise
from typing import NamedTuple

__all__ = ["HOUR_US", "Sample", "Stretch", "sample_at", "sample_of", "stretches"]

HOUR_US = 3_600_000_000

_Values = list[float | None]


class Sample(NamedTuple):
    """What a sensor showed at a time: degrees Celsius, relative humidity in %, or both."""

    at_us: int
    c: float | None
    pct: float | None


class Stretch(NamedTuple):
    """A time in which the air went in a straight line from one state to another.

    Both ends of a quantity are None if it was not observed; at least one was.
    """

    from_us: int
    until_us: int
    from_c: float | None
    until_c: float | None
    from_pct: float | None
    until_pct: float | None


def sample_of(
    at_us: int,
    c_milli: int | None,
    humidity_milli: int | None,
    offset_c: float = 0.0,
    offset_pct: float = 0.0,
) -> Sample:
    """Give a recorded reading (thousandths) with its sensor's offsets added.

    Humidity stays within 0 and 100 %: an offset can't make air drier than dry. Sums are
    rounded to 1e-6, so that 6.2 + 0.9 is 7.1 and no limit is passed by a last digit.
    """
    if not (offset_c or offset_pct):
        # Nothing to round, and a reading is within its bounds: most samples come by here.
        return Sample(
            at_us,
            None if c_milli is None else c_milli / 1000,
            None if humidity_milli is None else humidity_milli / 1000,
        )
    c = None if c_milli is None else round(c_milli / 1000 + offset_c, 6)
    if humidity_milli is None:
        return Sample(at_us, c, None)
    pct = round(humidity_milli / 1000 + offset_pct, 6)
    return Sample(at_us, c, min(100.0, max(0.0, pct)))


def sample_at(samples: Sequence[Sample], at_us: int, longest_gap_us: int) -> Sample | None:
    """Interpolate a sensor's sorted samples at a time; None if nothing was observed then."""
    c = _value_at(samples, [s.c for s in samples], at_us, longest_gap_us)
    pct = _value_at(samples, [s.pct for s in samples], at_us, longest_gap_us)
    return None if c is None and pct is None else Sample(at_us, c, pct)


def _value_at(
    samples: Sequence[Sample], values: _Values, at_us: int, longest_gap_us: int
) -> float | None:
    known = [(s.at_us, v) for s, v in zip(samples, values, strict=True) if v is not None]
    place = bisect_right(known, at_us, key=lambda pair: pair[0])
    if place and known[place - 1][0] == at_us:
        return known[place - 1][1]
    if place in {0, len(known)}:
        return None
    (t0, v0), (t1, v1) = known[place - 1 : place + 1]
    return None if t1 - t0 > longest_gap_us else v0 + (v1 - v0) * ((at_us - t0) / (t1 - t0))


def stretches(
    series: Sequence[Sequence[Sample]],
    from_us: int,
    until_us: int,
    longest_gap_us: int,
    cuts: Iterable[int] = (),
) -> list[Stretch]:
    """Give the observed stretches between two times, in order, none across a whole hour (UTC).

    ``series`` holds one list of samples for each sensor (and for each time it hung there), each
    sorted by time, without two samples at one time; samples outside the two times serve to
    interpolate at them. ``cuts`` are further points that no stretch may cross.
    """
    if until_us <= from_us:
        return []
    near = [_near(one, from_us, until_us, longest_gap_us) for one in series]
    points = {from_us, until_us, *range(-(-from_us // HOUR_US) * HOUR_US, until_us, HOUR_US)}
    points.update(at for at in cuts if from_us < at < until_us)
    for one in near:
        points.update(at for at, _, _ in one if from_us < at < until_us)
    ordered = sorted(points)
    warmth = [_course(one, [s[1] for s in one], ordered, longest_gap_us) for one in near]
    damp = [_course(one, [s[2] for s in one], ordered, longest_gap_us) for one in near]
    from_c, until_c = _mean(warmth, len(ordered) - 1)
    from_pct, until_pct = _mean(damp, len(ordered) - 1)
    rows = zip(ordered, ordered[1:], from_c, until_c, from_pct, until_pct, strict=False)
    return [Stretch(*row) for row in rows if row[2] is not None or row[4] is not None]


def _near(
    samples: Sequence[Sample], from_us: int, until_us: int, longest_gap_us: int
) -> Sequence[Sample]:
    """Leave out the samples too far outside two times to bear on the time between."""
    first = bisect_left(samples, from_us - longest_gap_us, key=_at)
    behind = bisect_right(samples, until_us + longest_gap_us, key=_at)
    return samples[first:behind]


def _at(sample: Sample) -> int:
    return sample[0]


_Course = tuple[_Values, list[bool]]
"""A sensor's value at each point, and for each time between two points whether it was observed."""


def _course(
    samples: Sequence[Sample], values: _Values, points: list[int], longest_gap_us: int
) -> _Course:
    """Follow one quantity of one sensor through the points, among which are its readings."""
    told = [value is not None for value in values]
    times = [s[0] for s in compress(samples, told)]
    known = [v for v in values if v is not None]
    course: _Values = [None] * len(points)
    seen = [False] * (len(points) - 1)
    place = 0
    last = len(points) - 1
    for (t0, t1), (v0, v1) in zip(pairwise(times), pairwise(known), strict=True):
        if t1 <= points[0] or t1 - t0 > longest_gap_us:
            continue
        if t0 >= points[last]:
            break
        while points[place] < t0:
            place += 1
        while place < last and points[place] < t1:
            at = points[place]
            course[place] = v0 if at == t0 else v0 + (v1 - v0) * ((at - t0) / (t1 - t0))
            seen[place] = True
            place += 1
        at = points[place]
        course[place] = v1 if at == t1 else v0 + (v1 - v0) * ((at - t0) / (t1 - t0))
    return course, seen


def _mean(courses: list[_Course], count: int) -> tuple[_Values, _Values]:
    """Give the mean of the observed sensors at both ends of each time between two points."""
    courses = [one for one in courses if True in one[1]]
    if not courses:
        return [None] * count, [None] * count
    if len(courses) == 1:
        values, seen = courses[0]
        begins = [v if s else None for v, s in zip(values, seen, strict=False)]
        ends = [v if s else None for v, s in zip(values[1:], seen, strict=True)]
        return begins, ends
    begins, ends = [], []
    for i in range(count):
        ours = [values for values, seen in courses if seen[i]]
        begins.append(_mean_at(ours, i))
        ends.append(_mean_at(ours, i + 1))
    return begins, ends


def _mean_at(courses: list[_Values], place: int) -> float | None:
    values = [v for one in courses if (v := one[place]) is not None]
    return sum(values) / len(values) if values else None
