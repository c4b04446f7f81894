"""Local times of one sensor into moments, also where clocks are changed."""

from collections.abc import Sequence
from datetime import datetime, timedelta, timezone, tzinfo
from itertools import pairwise
from typing import Literal, NamedTuple, TypeAlias

__all__ = ["Resolved", "resolve_times"]

Resolved: TypeAlias = datetime | str
"""A moment with its offset, or why there is none."""

_Pass: TypeAlias = Literal["first", "second"]

# A step so many times the usual one is a gap.
_LONG = 1.5


def resolve_times(
    times: Sequence[datetime], zone: tzinfo | None, stated: _Pass | None
) -> list[Resolved]:
    """Give each time its offset; ``times`` are one sensor's, in the order of the file.

    A time that carries an offset keeps it. In the hour that comes twice when daylight saving
    ends, a step back in the file's order parts the first pass from the second. Without one, they
    are parted where that leaves the fewest gaps; times for which that does not say which pass
    they are of are refused, unless it is ``stated``. A file whose newest line comes first is read
    from its end.
    """
    backwards = _runs_backwards(times)
    ordered = list(reversed(times)) if backwards else list(times)
    found = _resolve_in_order(ordered, zone, stated)
    return list(reversed(found)) if backwards else found


def _runs_backwards(times: Sequence[datetime]) -> bool:
    local = [time.replace(tzinfo=None) for time in times]
    falling = sum(b < a for a, b in pairwise(local))
    rising = sum(b > a for a, b in pairwise(local))
    return falling > rising


def _resolve_in_order(
    times: list[datetime], zone: tzinfo | None, stated: _Pass | None
) -> list[Resolved]:
    found: list[Resolved] = []
    usual = _usual_step(times)
    place = 0
    while place < len(times):
        end = place
        while end < len(times) and _comes_twice(times[end], zone):
            end += 1
        if end == place:
            found.append(_plain(times[place], zone))
            place += 1
            continue
        assert zone is not None
        before = next((one for one in reversed(found) if isinstance(one, datetime)), None)
        after = _plain(times[end], zone) if end < len(times) else None
        around = _Around(before, after if isinstance(after, datetime) else None, usual)
        found += _passes(times[place:end], zone, stated, around)
        place = end
    return found


class _Around(NamedTuple):
    """The moments before and after a run, and the usual step of the file."""

    before: datetime | None
    after: datetime | None
    usual: timedelta | None

    def gaps(self, first: list[datetime], second: list[datetime], split: int) -> int:
        """Count the gaps beside and inside a run of which ``split`` times lie in the first pass.

        Gaps within a pass are left out: they are the same whichever it is.
        """
        if self.usual is None:
            return 0
        begin = first[0] if split else second[0]
        end = second[-1] if split < len(second) else first[-1]
        steps = [begin - self.before] if self.before is not None else []
        steps += [self.after - end] if self.after is not None else []
        inside = 0
        if 0 < split < len(first):
            steps.append(second[split] - first[split - 1])
            inside = first[split] - first[split - 1] > _LONG * self.usual
        return sum(step > _LONG * self.usual for step in steps) - inside


def _usual_step(times: list[datetime]) -> timedelta | None:
    local = [time.replace(tzinfo=None) for time in times]
    steps = sorted(b - a for a, b in pairwise(local) if b > a)
    return steps[len(steps) // 2] if steps else None


def _comes_twice(time: datetime, zone: tzinfo | None) -> bool:
    if time.tzinfo is not None or zone is None:
        return False
    first, second = _offsets(time, zone)
    return first > second


def _offsets(time: datetime, zone: tzinfo) -> tuple[timedelta, timedelta]:
    first = time.replace(tzinfo=zone, fold=0).utcoffset()
    second = time.replace(tzinfo=zone, fold=1).utcoffset()
    assert first is not None
    assert second is not None
    return first, second


def _plain(time: datetime, zone: tzinfo | None) -> Resolved:
    if time.tzinfo is not None:
        return time
    if zone is None:
        return "the time carries no offset, and no time zone is stated"
    first, second = _offsets(time, zone)
    if first < second:
        return f"clocks were put forward then: there was no {time} in {zone}"
    return _with_offset(time, zone, fold=0)


def _with_offset(time: datetime, zone: tzinfo, *, fold: int) -> datetime:
    """Give the moment with a plain offset, so that differences are those of moments."""
    offset = time.replace(tzinfo=zone, fold=fold).utcoffset()
    assert offset is not None
    return time.replace(tzinfo=timezone(offset), fold=0)


def _passes(
    run: list[datetime], zone: tzinfo, stated: _Pass | None, around: _Around
) -> list[Resolved]:
    """Resolve a run of times each of which came twice: so many in the first pass, then the rest."""
    steps_back = [i for i, (a, b) in enumerate(pairwise(run), 1) if b <= a]
    if len(steps_back) > 1:
        return [f"{time} came twice in {zone}, and the file is not in order there" for time in run]
    firsts, seconds = ([_with_offset(time, zone, fold=fold) for time in run] for fold in (0, 1))
    if steps_back:
        parted = steps_back
    elif stated is not None:
        parted = [len(run) if stated == "first" else 0]
    else:
        counts = [around.gaps(firsts, seconds, split) for split in range(len(run) + 1)]
        parted = [split for split, count in enumerate(counts) if count == min(counts)]
    return [
        first
        if i < parted[0]
        else second
        if i >= parted[-1]
        else f"{time} came twice in {zone}, and the file does not show which it was: state it"
        for i, (time, first, second) in enumerate(zip(run, firsts, seconds, strict=True))
    ]
