"""Tallies added up, by the hour and over any time."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from math import fsum
from operator import attrgetter

from rindline_server.calc.air.limits import NO_LIMITS, LimitSpan
from rindline_server.calc.air.packing import Spell, merge_spreads, spans_of, spells_in
from rindline_server.calc.air.rule import AirRule
from rindline_server.calc.air.series import HOUR_US, Sample, Stretch, stretches
from rindline_server.calc.air.summing import tally
from rindline_server.calc.air.tally import NOTHING_OBSERVED, Tally

__all__ = ["hourly", "merge", "spells_of", "unseen_of", "unseen_over"]

_FIRST_FLOAT, _FIRST_COUNT, _FIRST_EXTREME, _FIRST_PACKED = 4, 10, 15, 19
"""Where in a tally the kinds of fields begin: counts, areas, counts, extremes, packed ones."""


def merge(tallies: Iterable[Tally]) -> Tally:
    """Add up the tallies of times that don't overlap.

    Works column by column and on plain rows of a table too, if their columns are in order.
    """
    columns = list(zip(*tallies, strict=True))
    if not columns:
        return NOTHING_OBSERVED
    counts = [sum(column) for column in columns[:_FIRST_FLOAT]]
    areas = [fsum(column) for column in columns[_FIRST_FLOAT:_FIRST_COUNT]]
    times = [sum(column) for column in columns[_FIRST_COUNT:_FIRST_EXTREME]]
    extremes = [
        _extreme(pick, column)
        for pick, column in zip(
            (min, max, min, max), columns[_FIRST_EXTREME:_FIRST_PACKED], strict=True
        )
    ]
    c_spread, humidity_spread, spells, unseen = columns[_FIRST_PACKED:]
    packed = [merge_spreads(c_spread), merge_spreads(humidity_spread)]
    spans = [b"".join(spells), b"".join(unseen)]
    return Tally._make([*counts, *areas, *times, *extremes, *packed, *spans])


def _extreme(pick: Callable[..., float | None], column: Sequence[float | None]) -> float | None:
    """Give the least or most of what is there; quick where nothing is missing."""
    try:
        return pick(column)
    except TypeError:
        return pick([value for value in column if value is not None], default=None)


def spells_of(whole: Tally) -> list[Spell]:
    """Give the times outside a limit in order of their beginning; touching ones are joined."""
    return sorted(spells_in(whole.spells), key=attrgetter("from_us", "what"))


def unseen_of(whole: Tally) -> list[tuple[int, int]]:
    """Give the times without an observed temperature in order; touching ones are joined.

    Only those within the times that were tallied: see :func:`unseen_over` for all.
    """
    return spans_of(whole.unseen)


def unseen_over(
    parts: Iterable[tuple[int, int, Tally]], from_us: int, until_us: int
) -> list[tuple[int, int]]:
    """Give the times without an observed temperature between two times, touching ones joined.

    ``parts`` are tallied times (from, until, tally), in order; between them nothing was observed.
    """
    missing: list[tuple[int, int]] = []
    reached = from_us
    for begin, end, part in parts:
        if begin > reached:
            missing.append((reached, begin))
        if part.unseen:
            missing.extend(spans_of(part.unseen))
        reached = max(reached, end)
    if reached < until_us:
        missing.append((reached, until_us))
    joined: list[tuple[int, int]] = []
    for begin, end in missing:
        if joined and joined[-1][1] == begin:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((begin, end))
    return joined


def hourly(
    series: Sequence[Sequence[Sample]],
    limits: Sequence[LimitSpan],
    from_us: int,
    until_us: int,
    rule: AirRule,
) -> list[tuple[int, int, Tally]]:
    """Tally the air between two times hour by hour: (from, until, tally), in order.

    The first and the last may be parts of an hour. Hours in which nothing was observed and no
    reading taken are left out. ``limits`` (in order of time, not overlapping) say which limits
    held when; where none is given, none held. ``series`` as for :func:`stretches`.
    """
    changes = [at for span in limits for at in span[:2]]
    course = stretches(series, from_us, until_us, rule.longest_gap_us, changes)
    taken = sorted(
        sample.at_us for one in series for sample in one if from_us <= sample.at_us < until_us
    )
    edges = sorted(
        {at // HOUR_US for at in taken} | {stretch.from_us // HOUR_US for stretch in course}
    )
    spans = [(max(from_us, h * HOUR_US), min(until_us, (h + 1) * HOUR_US)) for h in edges]
    readings = _shared_out(taken, spans)
    pieces = _dealt(course, spans)
    return [
        (begin, end, _tally_of_hour(piece, limits, rule, count, (begin, end)))
        for (begin, end), count, piece in zip(spans, readings, pieces, strict=True)
    ]


def _shared_out(taken: list[int], spans: list[tuple[int, int]]) -> Iterator[int]:
    """Count the readings in each span."""
    place = 0
    for _, end in spans:
        before = place
        while place < len(taken) and taken[place] < end:
            place += 1
        yield place - before


def _dealt(course: list[Stretch], spans: list[tuple[int, int]]) -> Iterator[list[Stretch]]:
    """Give the stretches in each span; none crosses from one into the next."""
    place = 0
    for _, end in spans:
        before = place
        while place < len(course) and course[place].from_us < end:
            place += 1
        yield course[before:place]


def _tally_of_hour(
    course: list[Stretch],
    limits: Sequence[LimitSpan],
    rule: AirRule,
    readings: int,
    span: tuple[int, int],
) -> Tally:
    """Tally one hour, piece by piece where the limits changed in it."""
    begin, end = span
    pieces = []
    at = begin
    for held_from, held_until, held in limits:
        if held_until <= at or held_from >= end:
            continue
        if held_from > at:
            pieces.append((at, held_from, NO_LIMITS))
        pieces.append((max(at, held_from), min(end, held_until), held))
        at = min(end, held_until)
    if at < end:
        pieces.append((at, end, NO_LIMITS))
    if len(pieces) == 1:
        return tally(course, pieces[0][2], rule, readings, begin, end)
    tallies = [
        tally([s for s in course if a <= s.from_us < b], held, rule, 0, a, b)
        for a, b, held in pieces
    ]
    return merge([*tallies, Tally(readings=readings)])
