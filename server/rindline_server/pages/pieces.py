"""What the strips of a picture draw: the course of one quantity, its limits, gaps and spells."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from itertools import zip_longest
from typing import Literal, NamedTuple

from rindline_schema.answers import AirFigures, AirSpell, HourOfAir, RoomLimits, UnobservedSpan

__all__ = ["Gap", "Limit", "Piece", "Quantity", "Spell", "humidity", "is_daily", "temperature"]

# Hours are told to the thousandth.
_SLACK = timedelta(seconds=10)
_WHY = {"no_reading": "no reading", "no_room": "no room told", "away": "away"}
_SPELLS = {"too_cold": False, "too_dry": False, "too_warm": True, "too_damp": True}
"""What a spell may be, and whether it is one above a limit."""


class Piece(NamedTuple):
    """One hour or day of the quantity."""

    from_at: datetime
    until_at: datetime
    mean: float
    least: float
    most: float


class Limit(NamedTuple):
    """A limit and the time it was declared for."""

    side: Literal["least", "most"]
    from_at: datetime
    until_at: datetime
    value: float


class Gap(NamedTuple):
    """A time in which the quantity was not observed, and why."""

    from_at: datetime
    until_at: datetime
    why: str


class Spell(NamedTuple):
    """A time beyond a limit, above or below it. ``what`` is in words."""

    what: str
    is_above: bool
    from_at: datetime
    until_at: datetime
    minutes: float
    limit: float | None
    worst: float | None
    unit: str


class Quantity(NamedTuple):
    """All there is to draw of temperature or of humidity.

    ``bounds`` are the values it can't leave, ``least_rise`` is the least from the bottom of its
    strip to the top.
    """

    name: str
    unit: str
    bounds: tuple[float, float]
    least_rise: float
    pieces: list[Piece]
    limits: list[Limit]
    gaps: list[Gap]
    spells: list[Spell]

    def values(self) -> Iterator[float]:
        """Give every value that must find a place in the strip."""
        for piece in self.pieces:
            yield from (piece.least, piece.most)
        yield from (limit.value for limit in self.limits)
        for spell in self.spells:
            yield from (value for value in (spell.limit, spell.worst) if value is not None)


def temperature(
    series: Sequence[HourOfAir],
    figures: AirFigures,
    unobserved: Sequence[UnobservedSpan],
    limits: Sequence[RoomLimits] = (),
) -> Quantity:
    """Take the temperature from an answer."""
    rows = [
        (at, until_at, one.mean_c, one.least_c, one.most_c) for at, until_at, one in _timed(series)
    ]
    bounds = [(one.from_at, one.until_at, one.least_c, one.most_c) for one in limits]
    spells = [
        _spell(one, one.limit_c, one.worst_c, "°C")
        for one in figures.spells
        if one.what in ("too_cold", "too_warm")
    ]
    pieces, gaps = list(_pieces(rows)), _gaps(unobserved)
    return Quantity("Temperature", "°C", (-60, 100), 3, pieces, _limits(bounds), gaps, spells)


def humidity(
    series: Sequence[HourOfAir],
    figures: AirFigures,
    unobserved: Sequence[UnobservedSpan],
    limits: Sequence[RoomLimits] = (),
) -> Quantity:
    """Take the relative humidity from an answer."""
    rows = [
        (
            at,
            until_at,
            one.mean_humidity_pct,
            one.least_humidity_pct,
            one.most_humidity_pct,
        )
        for at, until_at, one in _timed(series)
    ]
    bounds = [
        (one.from_at, one.until_at, one.least_humidity_pct, one.most_humidity_pct) for one in limits
    ]
    spells = [
        _spell(one, one.limit_humidity_pct, one.worst_humidity_pct, "%")
        for one in figures.spells
        if one.what in ("too_dry", "too_damp")
    ]
    pieces = list(_pieces(rows))
    # Gaps are told of the temperature; a sensor may show that alone.
    gaps = [*_gaps(unobserved), *_without_value(rows)]
    return Quantity("Humidity", "%", (0, 100), 10, pieces, _limits(bounds), gaps, spells)


_Row = tuple[datetime, datetime, float | None, float | None, float | None]


def is_daily(series: Sequence[HourOfAir]) -> bool:
    """Say whether a series goes day by day."""
    return any(one.hours > 1 for one in series)


def _timed(series: Sequence[HourOfAir]) -> Iterator[tuple[datetime, datetime, HourOfAir]]:
    """Give each piece with its beginning and end.

    A day tells how many of its hours were observed, not which: it is drawn to its end or to the
    next piece, and the gaps are drawn over it.
    """
    daily = is_daily(series)
    for one, after in zip_longest(series, series[1:]):
        until_at = one.at + timedelta(hours=one.hours)
        if daily:
            utc = one.at.astimezone(UTC)
            until_at = utc.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=1)
        if after is not None and one.at < after.at < until_at + _SLACK:
            until_at = after.at
        yield one.at, until_at, one


def _pieces(rows: Iterable[_Row]) -> Iterator[Piece]:
    for at, until_at, mean, least, most in rows:
        if mean is None:
            continue
        yield Piece(
            at,
            until_at,
            mean,
            mean if least is None else min(least, mean),
            mean if most is None else max(most, mean),
        )


def _without_value(rows: Iterable[_Row]) -> list[Gap]:
    gaps: list[Gap] = []
    for at, until_at, mean, _, _ in rows:
        if mean is not None:
            continue
        if gaps and gaps[-1].until_at == at:
            gaps[-1] = gaps[-1]._replace(until_at=until_at)
        else:
            gaps.append(Gap(at, until_at, _WHY["no_reading"]))
    return gaps


def _gaps(unobserved: Iterable[UnobservedSpan]) -> list[Gap]:
    return [
        Gap(one.from_at, one.until_at, _WHY.get(one.why, one.why.replace("_", " ")))
        for one in unobserved
    ]


def _limits(
    bounds: Iterable[tuple[datetime, datetime, float | None, float | None]],
) -> list[Limit]:
    limits: list[Limit] = []
    for from_at, until_at, least, most in bounds:
        if least is not None:
            limits.append(Limit("least", from_at, until_at, least))
        if most is not None:
            limits.append(Limit("most", from_at, until_at, most))
    return limits


def _spell(one: AirSpell, limit: float | None, worst: float | None, unit: str) -> Spell:
    what = one.what.replace("_", " ")
    is_above = _SPELLS.get(one.what, True)
    return Spell(what, is_above, one.from_at, one.until_at, one.minutes, limit, worst, unit)
