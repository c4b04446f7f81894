"""The tally of one time: stretches summed by the trapezoid rule.

Temperature and humidity go straight within a stretch, so their areas, crossings and spreads are
exact. Dew point, vapour pressure deficit and the exponential of the mean kinetic temperature are
worked out at both ends of each stretch and taken to go straight between (trapezoid).
"""

from collections.abc import Iterable, Sequence
from math import inf

from rindline_server.calc.air.kinetic import kinetic_exponential
from rindline_server.calc.air.limits import Limits
from rindline_server.calc.air.packing import (
    C_STEPS,
    PCT_STEPS,
    Spell,
    pack_spans,
    pack_spells,
    pack_spread,
)
from rindline_server.calc.air.psychrometrics import deficit_kpa, dew_point_c
from rindline_server.calc.air.rule import AirRule
from rindline_server.calc.air.series import HOUR_US, Stretch
from rindline_server.calc.air.tally import Tally

__all__ = ["INTEGRATION_RULE", "tally"]

INTEGRATION_RULE = "trapezoid"
"""The rule by name: trapezoids between readings, whole hours and changes of a declaration."""

_HAIR = 1e-12
"""A mean of sensors may be off by its last digits: by less than this it is not outside."""

_Line = tuple[int, int, float, float]
"""One quantity's straight line: from when until when, from which value to which."""


def tally(
    course: Sequence[Stretch],
    limits: Limits,
    rule: AirRule,
    readings: int,
    from_us: int,
    until_us: int,
) -> Tally:
    """Sum up a time in which one set of limits held and ``readings`` were taken.

    ``course`` are its stretches, in order and all within it. Between two points the trapezoid
    rule is used, see the module.
    """
    warmth = [(s[0], s[1], s[2], s[3]) for s in course if s[2] is not None and s[3] is not None]
    damp = [(s[0], s[1], s[4], s[5]) for s in course if s[4] is not None and s[5] is not None]
    c_us, area_c, least_c, most_c, c_spread = _summed(warmth, C_STEPS)
    humidity_us, area_pct, least_pct, most_pct, humidity_spread = _summed(damp, PCT_STEPS)
    both_us, dew_c, deficit = _moist(course)
    too_cold = _spells(warmth, "too_cold", limits.least_c, least_c)
    too_warm = _spells(warmth, "too_warm", limits.most_c, most_c)
    too_dry = _spells(damp, "too_dry", limits.least_pct, least_pct)
    too_damp = _spells(damp, "too_damp", limits.most_pct, most_pct)
    return Tally(
        readings=readings,
        c_us=c_us,
        humidity_us=humidity_us,
        both_us=both_us,
        area_c_h=area_c,
        area_pct_h=area_pct,
        dew_c_h=dew_c,
        deficit_kpa_h=deficit,
        kinetic_h=_kinetic(warmth, rule.activation_kj_per_mol),
        degree_c_h=_degrees(warmth, rule.base_c),
        cold_us=_below(warmth, rule.cold_c),
        too_cold_us=_lasted_us(too_cold),
        too_warm_us=_lasted_us(too_warm),
        too_dry_us=_lasted_us(too_dry),
        too_damp_us=_lasted_us(too_damp),
        least_c=least_c,
        most_c=most_c,
        least_pct=least_pct,
        most_pct=most_pct,
        c_spread=c_spread,
        humidity_spread=humidity_spread,
        spells=pack_spells([*too_cold, *too_warm, *too_dry, *too_damp]),
        unseen=pack_spans(_unseen(warmth, from_us, until_us)),
    )


def _summed(
    lines: Sequence[_Line], steps: int
) -> tuple[int, float, float | None, float | None, bytes]:
    """Give time, area (times hours), least, most and spread of one quantity."""
    if not lines:
        return 0, 0.0, None, None, b""
    whole_us = 0
    area = 0.0
    least, most = inf, -inf
    spread: dict[int, int] = {}
    for from_us, until_us, begin, end in lines:
        took_us = until_us - from_us
        whole_us += took_us
        area += (begin + end) * took_us
        low, high = (begin, end) if begin < end else (end, begin)
        least = min(least, low)
        most = max(most, high)
        first = int(low * steps + _ABOVE_ALL) - _ABOVE
        last = int(high * steps + _ABOVE_ALL) - _ABOVE
        if first == last:
            spread[first] = spread.get(first, 0) + took_us
        else:
            _spread_out(spread, (first, last), (low * steps, high * steps), took_us)
    return whole_us, area / (2 * HOUR_US), least, most, pack_spread(spread)


_ABOVE = 32768
_ABOVE_ALL = _ABOVE + 0.5


def _spread_out(
    spread: dict[int, int], ends: tuple[int, int], values: tuple[float, float], took_us: int
) -> None:
    """Share the time of a line evenly over the steps it passes through, in whole microseconds."""
    first, last = ends
    low, high = values
    per_step = took_us / (high - low)
    done = 0
    for step in range(first, last):
        reached = round((step + 0.5 - low) * per_step)
        if reached > done:
            spread[step] = spread.get(step, 0) + reached - done
            done = reached
    if took_us > done:
        spread[last] = spread.get(last, 0) + took_us - done


def _kinetic(lines: Iterable[_Line], activation_kj_per_mol: float) -> float:
    """Integrate the exponential of the mean kinetic temperature (times hours)."""
    area = 0.0
    before, at_before = inf, 0.0
    for from_us, until_us, begin, end in lines:
        at_begin = (
            at_before if begin == before else kinetic_exponential(begin, activation_kj_per_mol)
        )
        before = end
        at_before = at_begin if end == begin else kinetic_exponential(end, activation_kj_per_mol)
        area += (at_begin + at_before) * (until_us - from_us)
    return area / (2 * HOUR_US)


def _degrees(lines: Iterable[_Line], base_c: float) -> float:
    """Integrate the temperature above a base, only where it is above (degrees times hours)."""
    area = 0.0
    for from_us, until_us, begin, end in lines:
        low, high = (begin, end) if begin < end else (end, begin)
        if low >= base_c:
            area += (begin + end - 2 * base_c) * (until_us - from_us)
        elif high > base_c:
            area += (high - base_c) ** 2 / (high - low) * (until_us - from_us)
    return area / (2 * HOUR_US)


def _below(lines: Iterable[_Line], cold_c: float) -> int:
    """Give the microseconds below a temperature."""
    cold_us = 0
    for from_us, until_us, begin, end in lines:
        low, high = (begin, end) if begin < end else (end, begin)
        if high < cold_c:
            cold_us += until_us - from_us
        elif low < cold_c:
            cold_us += round((until_us - from_us) * (cold_c - low) / (high - low))
    return cold_us


def _moist(course: Iterable[Stretch]) -> tuple[int, float, float]:
    """Give time with both quantities, area of dew point and of vapour pressure deficit."""
    both_us = 0
    dew, deficit = 0.0, 0.0
    before: tuple[float, float] | None = None
    dew_before, deficit_before = 0.0, 0.0
    for from_us, until_us, from_c, until_c, from_pct, until_pct in course:
        if from_c is None or until_c is None or from_pct is None or until_pct is None:
            continue
        if before != (from_c, from_pct):
            dew_before, deficit_before = (
                dew_point_c(from_c, from_pct),
                deficit_kpa(from_c, from_pct),
            )
        dew_begin, deficit_begin = dew_before, deficit_before
        before = until_c, until_pct
        if before != (from_c, from_pct):
            dew_before, deficit_before = dew_point_c(*before), deficit_kpa(*before)
        took_us = until_us - from_us
        both_us += took_us
        dew += (dew_begin + dew_before) * took_us
        deficit += (deficit_begin + deficit_before) * took_us
    return both_us, dew / (2 * HOUR_US), deficit / (2 * HOUR_US)


def _spells(
    lines: Iterable[_Line], what: str, limit: float | None, extreme: float | None
) -> list[Spell]:
    """Give the times beyond a limit (below for too_cold and too_dry); crossings interpolated.

    ``extreme`` is the furthest value there was: nothing is to be looked for if it is within.
    """
    if limit is None or extreme is None:
        return []
    sign = -1.0 if what in {"too_cold", "too_dry"} else 1.0
    last_within = limit + sign * _HAIR
    if sign * extreme <= sign * last_within:
        return []
    found: list[Spell] = []
    for from_us, until_us, begin, end in lines:
        beyond, beyond_then = sign * (begin - last_within), sign * (end - last_within)
        if beyond <= 0 and beyond_then <= 0:
            continue
        took_us = until_us - from_us
        out_us = from_us + (0 if beyond > 0 else round(took_us * beyond / (beyond - beyond_then)))
        in_us = until_us - (
            0 if beyond_then > 0 else round(took_us * beyond_then / (beyond_then - beyond))
        )
        if out_us >= in_us:
            continue
        worst = begin if beyond > beyond_then else end
        last = found[-1] if found else None
        if last and last.until_us == out_us:
            further = max(sign * last.worst, sign * worst) * sign
            found[-1] = last._replace(until_us=in_us, worst=further)
        else:
            found.append(Spell(what, out_us, in_us, limit, worst))
    return found


def _lasted_us(spells: Iterable[Spell]) -> int:
    return sum(spell.until_us - spell.from_us for spell in spells)


def _unseen(lines: Iterable[_Line], from_us: int, until_us: int) -> Iterable[tuple[int, int]]:
    """Give the times between two times that no line covers."""
    reached = from_us
    for begin, end, _, _ in lines:
        if begin > reached:
            yield reached, begin
        reached = end
    if reached < until_us:
        yield reached, until_us
