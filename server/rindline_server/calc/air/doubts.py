"""Readings that are hard to believe: a stuck sensor, a sudden jump, air saturated for days.

All is told from one sensor's readings as it showed them (no offset), sorted by time, so the order
in which they were told can't matter. The thresholds are common practice, no source.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

from rindline_server.calc.air.series import HOUR_US, Sample

__all__ = ["DOUBT_RULE", "DoubtRule", "Doubtful", "doubts", "window_for"]

_MINUTE_US = 60_000_000

Kind = Literal["stuck", "jump", "saturated"]


class DoubtRule(NamedTuple):
    """When a reading is in doubt (common practice, no source).

    ``stuck_us`` and ``stuck_readings``: both temperature and humidity the very same, to the last
    digit, for so long and so often. A sensor that shows only one of them must stand still for
    ``stuck_alone_us``: a coarse thermometer in a good cellar does so for a day.
    ``jump_c``, ``jump_pct``: a step of more than this between two readings at most
    ``jump_within_us`` apart. ``saturated_pct``: this humidity or more for ``saturated_us``.
    ``apart_us``: readings further apart than this say nothing about the time between.
    """

    stuck_us: int = 24 * HOUR_US
    stuck_alone_us: int = 72 * HOUR_US
    stuck_readings: int = 12
    jump_c: float = 8.0
    jump_pct: float = 25.0
    jump_within_us: int = 15 * _MINUTE_US
    saturated_pct: float = 99.5
    saturated_us: int = 48 * HOUR_US
    apart_us: int = 6 * HOUR_US

    @property
    def reach_us(self) -> int:
        """How far around new readings a doubt can begin that did not stand before."""
        runs_us = max(self.stuck_us, self.stuck_alone_us, self.saturated_us)
        return max(runs_us, self.stuck_readings * self.apart_us) + self.apart_us


DOUBT_RULE = DoubtRule()


class Doubtful(NamedTuple):
    """Readings in doubt, from the first to the last of them, and why in words."""

    kind: Kind
    from_us: int
    until_us: int
    detail: str


def doubts(samples: Sequence[Sample], rule: DoubtRule = DOUBT_RULE) -> list[Doubtful]:
    """Give the doubts about one sensor's readings, in order of time and kind.

    ``samples`` are raw (without offset), sorted by time. A jump lasts from the reading before it
    to the reading after it; jumps that touch are one.
    """
    found = [*_stuck(samples, rule), *_saturated(samples, rule), *_jumps(samples, rule)]
    return sorted(found, key=lambda doubt: (doubt.from_us, doubt.kind))


def window_for(
    new_from_us: int,
    new_until_us: int,
    standing: Iterable[tuple[int, int]],
    rule: DoubtRule = DOUBT_RULE,
) -> tuple[int, int]:
    """Say which time's doubts may change with readings told from one time to another.

    ``standing`` are the times (from, until) of the sensor's doubts found before: all, or at least
    all that touch the window. Find :func:`doubts` anew from the readings within the window (both
    ends included) and put them in place of all standing ones that touch it: the outcome is that
    of finding all anew. For beyond the reach a doubt either stood already, and then the window
    takes it in whole, or is none.
    """
    begin, end = new_from_us - rule.reach_us, new_until_us + rule.reach_us
    waiting = sorted(standing)
    grown = True
    while grown:
        touching = [span for span in waiting if span[0] <= end and span[1] >= begin]
        wider = (
            min([begin, *(span[0] for span in touching)]),
            max([end, *(span[1] for span in touching)]),
        )
        grown = wider != (begin, end)
        begin, end = wider
    return begin, end


def _runs(
    samples: Sequence[Sample],
    alike: Callable[[Sample, Sample], bool],
    apart_us: int,
    fewest: int = 1,
) -> Iterator[Sequence[Sample]]:
    """Give the longest runs of samples of which each is like the one before and near it.

    Those of fewer than ``fewest`` are left out.
    """
    start = 0
    for place, (before, sample) in enumerate(pairwise(samples), 1):
        if alike(before, sample) and sample.at_us - before.at_us <= apart_us:
            continue
        if place - start >= fewest:
            yield samples[start:place]
        start = place
    if samples and len(samples) - start >= fewest:
        yield samples[start:]


def _stuck(samples: Sequence[Sample], rule: DoubtRule) -> Iterator[Doubtful]:
    def alike(a: Sample, b: Sample) -> bool:
        return a.c == b.c and a.pct == b.pct

    for run in _runs(samples, alike, rule.apart_us, rule.stuck_readings):
        first, last = run[0], run[-1]
        both = first.c is not None and first.pct is not None
        asked_us = rule.stuck_us if both else rule.stuck_alone_us
        if last.at_us - first.at_us >= asked_us:
            yield Doubtful(
                "stuck",
                first.at_us,
                last.at_us,
                f"the very same {_shown(first)} in {len(run)} readings over {_hours(run)} hours",
            )


def _saturated(samples: Sequence[Sample], rule: DoubtRule) -> Iterator[Doubtful]:
    told = [sample for sample in samples if sample.pct is not None]
    if not any(_is_wet(sample, rule) for sample in told):
        return
    for run in _runs(told, lambda a, b: _is_wet(a, rule) == _is_wet(b, rule), rule.apart_us):
        if _is_wet(run[0], rule) and run[-1].at_us - run[0].at_us >= rule.saturated_us:
            yield Doubtful(
                "saturated",
                run[0].at_us,
                run[-1].at_us,
                f"humidity of {rule.saturated_pct:g} % or more in {len(run)} readings over "
                f"{_hours(run)} hours",
            )


def _jumps(samples: Sequence[Sample], rule: DoubtRule) -> list[Doubtful]:
    steps = [
        *_steps([(s.at_us, s.c) for s in samples], rule.jump_c, "degrees", rule),
        *_steps([(s.at_us, s.pct) for s in samples], rule.jump_pct, "% of humidity", rule),
    ]
    joined: list[Doubtful] = []
    for step in sorted(steps, key=lambda step: (step.from_us, step.until_us, step.detail)):
        last = joined[-1] if joined else None
        if last and step.from_us <= last.until_us:
            joined[-1] = last._replace(
                until_us=max(last.until_us, step.until_us),
                detail=f"{last.detail}; {step.detail}",
            )
        else:
            joined.append(step)
    return joined


def _steps(
    course: list[tuple[int, float | None]], most: float, unit: str, rule: DoubtRule
) -> Iterator[Doubtful]:
    told = [(at_us, value) for at_us, value in course if value is not None]
    for (t0, v0), (t1, v1) in pairwise(told):
        if abs(v1 - v0) > most and t1 - t0 <= rule.jump_within_us:
            minutes = (t1 - t0) / _MINUTE_US
            yield Doubtful(
                "jump", t0, t1, f"from {v0:g} to {v1:g} {unit} within {minutes:.3g} minutes"
            )


def _is_wet(sample: Sample, rule: DoubtRule) -> bool:
    return sample.pct is not None and sample.pct >= rule.saturated_pct


def _shown(sample: Sample) -> str:
    c = None if sample.c is None else f"{sample.c:g} degrees"
    pct = None if sample.pct is None else f"{sample.pct:g} %"
    return " and ".join(part for part in (c, pct) if part)


def _hours(run: Sequence[Sample]) -> str:
    return f"{(run[-1].at_us - run[0].at_us) / HOUR_US:.0f}"
