"""The same figures by another way: slow, in exact fractions, written for comparison alone."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from rindline_server.calc.air import AirRule, Limits, Sample, deficit_kpa, dew_point_c
from rindline_server.calc.air.kinetic import kinetic_exponential

_HOUR_US = 3_600_000_000

Line = tuple[int, int, Fraction, Fraction]
"""From when until when a quantity went from which value to which."""


@dataclass
class Direct:
    """One integration over raw readings: areas in unit times hours, times in microseconds."""

    readings: int = 0
    c: list[Line] = field(default_factory=list)
    pct: list[Line] = field(default_factory=list)
    both: list[tuple[Line, Line]] = field(default_factory=list)
    outside: dict[str, list[tuple[Fraction, Fraction]]] = field(default_factory=dict)


def _line(sensor: Sequence[Sample], place: int, u: int, v: int, gap: int) -> Line | None:
    shown = [(s.at_us, s.c if place == 1 else s.pct) for s in sensor]
    told = [(at, Fraction(value)) for at, value in shown if value is not None]
    before = [p for p in told if p[0] <= u]
    after = [p for p in told if p[0] >= v]
    if not before or not after:
        return None
    (a, va), (b, vb) = max(before), min(after)
    if b - a > gap:
        return None
    slope = (vb - va) / Fraction(b - a)
    return u, v, va + slope * (u - a), va + slope * (v - a)


def _average(lines: list[Line]) -> Line | None:
    if not lines:
        return None
    u, v = lines[0][:2]
    none = Fraction(0)
    begin, end = sum((x[2] for x in lines), none), sum((x[3] for x in lines), none)
    return u, v, begin / len(lines), end / len(lines)


def integrate(
    series: Sequence[Sequence[Sample]],
    limits: Sequence[tuple[int, int, Limits]],
    from_us: int,
    until_us: int,
    rule: AirRule,
) -> Direct:
    """Integrate a room's air between two times directly from the readings of its sensors."""
    found = Direct(
        readings=sum(from_us <= s.at_us < until_us for sensor in series for s in sensor),
        outside={what: [] for what in ("too_cold", "too_warm", "too_dry", "too_damp")},
    )
    marks = {s.at_us for sensor in series for s in sensor}
    marks |= {at for span in limits for at in span[:2]}
    marks |= {h * _HOUR_US for h in range(from_us // _HOUR_US, until_us // _HOUR_US + 1)}
    points = sorted({from_us, until_us} | {at for at in marks if from_us < at < until_us})
    for u, v in pairwise(points):
        held = next((h for a, b, h in limits if a <= u and v <= b), Limits())
        c, pct = (
            _average([x for one in series if (x := _line(one, k, u, v, rule.longest_gap_us))])
            for k in (1, 2)
        )
        if c:
            found.c.append(c)
            found.outside["too_cold"] += _part(c, held.least_c, below=True)
            found.outside["too_warm"] += _part(c, held.most_c, below=False)
        if pct:
            found.pct.append(pct)
            found.outside["too_dry"] += _part(pct, held.least_pct, below=True)
            found.outside["too_damp"] += _part(pct, held.most_pct, below=False)
        if c and pct:
            found.both.append((c, pct))
    return found


def _part(line: Line, limit: float | None, *, below: bool) -> list[tuple[Fraction, Fraction]]:
    """Give the part of a line beyond a value, as one span of time if there is any."""
    u, v, begin, end = line
    if limit is None:
        return []
    at = Fraction(limit)
    a, b = (at - begin, at - end) if below else (begin - at, end - at)
    if a <= 0 and b <= 0:
        return []
    if a > 0 and b > 0:
        return [(Fraction(u), Fraction(v))]
    crossing = u + (v - u) * a / (a - b)
    return [(Fraction(u), crossing)] if a > 0 else [(crossing, Fraction(v))]


def time_us(lines: Sequence[Line]) -> int:
    """Give how long a quantity was observed."""
    return sum(v - u for u, v, *_ in lines)


def area_h(lines: Sequence[Line]) -> float:
    """Give the exact area under a quantity, in its unit times hours."""
    return float(sum(((a + b) / 2 * (v - u) for u, v, a, b in lines), Fraction(0)) / _HOUR_US)


def kinetic_h(lines: Sequence[Line], rule: AirRule) -> float:
    """Give the trapezoid sum of the kinetic exponential."""
    energy = rule.activation_kj_per_mol
    return _sum(
        [
            (
                v - u,
                kinetic_exponential(float(begin), energy),
                kinetic_exponential(float(end), energy),
            )
            for u, v, begin, end in lines
        ]
    )


def moist_h(pairs: Sequence[tuple[Line, Line]], of: Callable[[float, float], float]) -> float:
    """Give the trapezoid sum of a function of temperature and humidity."""
    return _sum(
        [
            (c[1] - c[0], of(float(c[2]), float(p[2])), of(float(c[3]), float(p[3])))
            for c, p in pairs
        ]
    )


def _sum(parts: list[tuple[int, float, float]]) -> float:
    total = sum(
        (Fraction(length) * (Fraction(a) + Fraction(b)) / 2 for length, a, b in parts), Fraction(0)
    )
    return float(total / _HOUR_US)


def above_h(lines: Sequence[Line], base: float) -> float:
    """Give the exact area above a base."""
    total = Fraction(0)
    for line in lines:
        _, _, begin, end = line
        for u, v in _part(line, base, below=False):
            x, y = max(begin - Fraction(base), Fraction(0)), max(end - Fraction(base), Fraction(0))
            total += (x + y) / 2 * (v - u)
    return float(total / _HOUR_US)


def below_us(lines: Sequence[Line], value: float) -> float:
    """Give how long a quantity was below a value."""
    return float(sum((v - u for x in lines for u, v in _part(x, value, below=True)), Fraction(0)))


def length_us(spans: Sequence[tuple[Fraction, Fraction]]) -> float:
    """Give the length of some spans of time."""
    return float(sum((b - a for a, b in spans), Fraction(0)))


def joined(spans: Sequence[tuple[Fraction, Fraction]]) -> list[tuple[Fraction, Fraction]]:
    """Give spans with those that touch joined."""
    whole: list[tuple[Fraction, Fraction]] = []
    for a, b in sorted(spans):
        if whole and whole[-1][1] == a:
            whole[-1] = (whole[-1][0], b)
        else:
            whole.append((a, b))
    return whole


DEW: Callable[[float, float], float] = dew_point_c
DEFICIT: Callable[[float, float], float] = deficit_kpa
