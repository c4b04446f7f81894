"""Figures of the air as answers give them: from tallies to what people read.

All figures are given to six decimals: far finer than any sensor, and the same on every machine.
"""

from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import groupby
from typing import Literal, NamedTuple

from rindline_schema.answers import (
    AirFigures,
    AirSpell,
    Doubt,
    HourOfAir,
    HumidityFigures,
    OutsideMinutes,
    TemperatureFigures,
    UnobservedSpan,
)
from rindline_server.calc.air import (
    HOUR_US,
    AirRule,
    Range,
    Spell,
    Tally,
    figures,
    merge,
    spells_of,
    unseen_of,
)
from rindline_server.ledger.times import from_us as moment
from rindline_server.ledger.times import to_us
from rindline_server.service.air.hours import AirPiece

__all__ = ["MOST_SPELLS", "RoomAir", "air_figures", "series_of", "unobserved_of"]

MOST_SPELLS = 200
"""How many spells outside a limit an answer gives; it counts all."""

_MINUTE_US = HOUR_US / 60
_DAY_US = 24 * HOUR_US

_Spans = list[tuple[int, int]]


class RoomAir(NamedTuple):
    """The air of a room over a time: for a path, one of its stays."""

    room: str
    tally: Tally


def air_figures(
    parts: Sequence[RoomAir],
    from_us: int,
    until_us: int,
    doubts: Iterable[Doubt],
    rule: AirRule,
    base_c: float | None = None,
) -> AirFigures:
    """Give the figures of a time: of a room, or of a path through several, in order.

    What of the time is in no part was not observed. ``doubts`` are cut to when their sensors hung
    in these rooms. ``base_c`` is the base the parts were tallied with, if not the rule's.
    """
    whole = merge(part.tally for part in parts)
    shown = figures(whole, rule)
    spells = [(one, part.room) for part in parts for one in spells_of(part.tally)]
    in_doubt = [(to_us(one.from_at), to_us(one.until_at)) for one in doubts]
    return AirFigures(
        hours=_hours(until_us - from_us),
        observed_hours=_hours(whole.c_us),
        unobserved_hours=_hours(until_us - from_us - whole.c_us),
        humidity_observed_hours=_hours(whole.humidity_us),
        readings=whole.readings,
        degree_hours_base_c=rule.base_c if base_c is None else base_c,
        degree_hours_c_h=_given(whole.degree_c_h),
        doubtful_hours=_hours(_length(_without(_union(in_doubt), unseen_of(whole)))),
        temperature=_temperature(shown.c),
        humidity=_humidity(shown.pct),
        dew_point_mean_c=_maybe(shown.dew_point_c),
        vapour_pressure_deficit_mean_kpa=_maybe(shown.deficit_kpa),
        vapour_pressure_deficit_kpa_h=_maybe(shown.deficit_kpa_h),
        mean_kinetic_temperature_c=_maybe(shown.mean_kinetic_c),
        outside=OutsideMinutes(
            too_cold_minutes=_minutes(whole.too_cold_us),
            too_warm_minutes=_minutes(whole.too_warm_us),
            too_dry_minutes=_minutes(whole.too_dry_us),
            too_damp_minutes=_minutes(whole.too_damp_us),
        ),
        spells=[_spell(*one) for one in spells[:MOST_SPELLS]],
        spell_count=len(spells),
    )


def unobserved_of(tally: Tally, room: str) -> list[UnobservedSpan]:
    """Give the times for which a room has no temperature."""
    return [
        UnobservedSpan(
            why="no_reading",
            from_at=moment(begin_us),
            until_at=moment(end_us),
            hours=_hours(end_us - begin_us),
            room=room,
        )
        for begin_us, end_us in unseen_of(tally)
    ]


def series_of(
    pieces: Iterable[AirPiece], step: Literal["none", "hours", "days"], room: str
) -> list[HourOfAir]:
    """Give the air hour by hour, or by days of UTC: those with a reading or a line in them.

    ``hours`` of a day counts its hours that are given, whole or cut.
    """
    if step == "none":
        return []
    if step == "hours":
        return [_hour(room, [piece]) for piece in pieces]
    days = groupby(pieces, key=lambda piece: piece.from_us // _DAY_US)
    return [_hour(room, list(of_day)) for _, of_day in days]


def _hour(room: str, pieces: Sequence[AirPiece]) -> HourOfAir:
    tally = pieces[0].tally if len(pieces) == 1 else merge(piece.tally for piece in pieces)
    c_h, pct_h = tally.c_us / HOUR_US, tally.humidity_us / HOUR_US
    return HourOfAir(
        at=moment(pieces[0].from_us),
        hours=_hours(sum(piece.until_us - piece.from_us for piece in pieces)),
        room=room,
        mean_c=_given(tally.area_c_h / c_h) if c_h else None,
        least_c=_maybe(tally.least_c),
        most_c=_maybe(tally.most_c),
        mean_humidity_pct=_given(tally.area_pct_h / pct_h) if pct_h else None,
        least_humidity_pct=_maybe(tally.least_pct),
        most_humidity_pct=_maybe(tally.most_pct),
        observed_minutes=_minutes(max(tally.c_us, tally.humidity_us)),
        outside_minutes=_minutes(
            _length(_union((s.from_us, s.until_us) for s in spells_of(tally)))
        ),
    )


# --- figures as they are written ------------------------------------------------------------------


def _given(value: float) -> float:
    return round(value, 6)


def _maybe(value: float | None) -> float | None:
    return None if value is None else _given(value)


def _hours(span_us: float) -> float:
    return _given(span_us / HOUR_US)


def _minutes(span_us: float) -> float:
    return _given(span_us / _MINUTE_US)


def _temperature(c: Range | None) -> TemperatureFigures | None:
    if c is None:
        return None
    mean, least, most, p05, p50, p95 = map(_given, c)
    return TemperatureFigures(
        mean_c=mean, least_c=least, most_c=most, p05_c=p05, p50_c=p50, p95_c=p95
    )


def _humidity(pct: Range | None) -> HumidityFigures | None:
    if pct is None:
        return None
    mean, least, most, p05, p50, p95 = map(_given, pct)
    return HumidityFigures(
        mean_pct=mean, least_pct=least, most_pct=most, p05_pct=p05, p50_pct=p50, p95_pct=p95
    )


@lru_cache(maxsize=4_096)
def _spell(spell: Spell, room: str) -> AirSpell:
    # A path and its stays give the same spells.
    limit, worst = _given(spell.limit), _given(spell.worst)
    is_c = spell.what in {"too_cold", "too_warm"}
    return AirSpell(
        what=spell.what,
        room=room,
        from_at=moment(spell.from_us),
        until_at=moment(spell.until_us),
        minutes=_minutes(spell.until_us - spell.from_us),
        limit_c=limit if is_c else None,
        worst_c=worst if is_c else None,
        limit_humidity_pct=None if is_c else limit,
        worst_humidity_pct=None if is_c else worst,
    )


# --- spans of time --------------------------------------------------------------------------------


def _union(spans: Iterable[tuple[int, int]]) -> _Spans:
    joined: _Spans = []
    for begin, end in sorted(spans):
        if joined and begin <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((begin, end))
    return joined


def _without(spans: _Spans, gone: _Spans) -> _Spans:
    """Take away from spans what lies in others; both in order, none of a list overlapping."""
    left: _Spans = []
    for begin, end in spans:
        at = begin
        for gone_from, gone_until in gone:
            if gone_until <= at or gone_from >= end:
                continue
            if gone_from > at:
                left.append((at, gone_from))
            at = max(at, gone_until)
        if at < end:
            left.append((at, end))
    return left


def _length(spans: _Spans) -> int:
    return sum(end - begin for begin, end in spans)
