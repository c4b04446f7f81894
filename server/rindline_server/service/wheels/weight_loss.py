"""Weight loss of a wheel or of a make's wheels, beside what wheels of the past lost."""

from collections.abc import Sequence
from typing import NamedTuple

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    CorridorPoint,
    LossPoint,
    VapourLoss,
    WeightLossAnswer,
    WheelLoss,
)
from rindline_server.calc.ages import DAY_US
from rindline_server.calc.air import AirRule
from rindline_server.calc.losses import (
    FIRST_DRAINAGE_US,
    Corridor,
    DryingInterval,
    DryingSlope,
    corridor_of,
    drying_slope,
    side_of,
)
from rindline_server.ledger.times import from_us
from rindline_server.service.callers import Caller
from rindline_server.service.lots import kind_of, lot_for
from rindline_server.service.wheels.curves import (
    CURVE_KINDS,
    InRoom,
    RoomsAir,
    WheelCurve,
    curve_of,
    stays_in,
)
from rindline_server.store import LotRow, MarkRow, ReadTransaction, WheelFilter, WheelRow

__all__ = ["LEAST_WHEELS", "MOST_PAST_WHEELS", "weight_loss"]

LEAST_WHEELS = 10
"""How many wheels of the past a figure about them rests on, at least."""

MOST_PAST_WHEELS = 1_000
"""How many wheels of the past are looked at, the newest."""

_LEAST_OBSERVED = 0.95
"""A deficit is given for an interval of which at least this part was observed."""


class _Interval(NamedTuple):
    """What happened between a weighing (or hooping) and the next; the deficit if observed."""

    begin_us: int
    mass_g: int
    lost_g: int
    deficit_kpa_h: float | None

    def is_drying(self, wheel: WheelRow) -> bool:
        """Whether it began after the whey had drained and its air is known."""
        return (
            self.begin_us - wheel.born_us >= FIRST_DRAINAGE_US
            and self.deficit_kpa_h is not None
            and self.mass_g > 0
        )


class _Past(NamedTuple):
    wheels: int
    corridor: list[Corridor]
    slope: DryingSlope | None


def weight_loss(
    snap: ReadTransaction, caller: Caller, code: str, rule: AirRule, now_us: int
) -> WeightLossAnswer:
    """Give the weight loss of a wheel, or of all wheels of a make; of other lots, a note.

    Raises ProblemError ``not_found`` if there is no such lot, or the caller may not see it.
    """
    row = lot_for(snap, caller, code)
    wheels = _wheels_of(snap, row)
    products = {wheel.product for wheel in wheels}
    product = products.pop() if len(products) == 1 else None
    past = _past_wheels(snap, wheels, product)
    every = [*wheels, *past]
    curves = _curves(snap, every)
    until = {c.wheel.id: (c.wheel.born_us, c.ended_us or now_us) for c in curves}
    stays = stays_in(snap.stays(list(until)), until) if until else {}
    air = RoomsAir(snap, stays.values(), rule)
    intervals = {c.wheel.id: _intervals(c, stays[c.wheel.id], air) for c in curves}
    before = _past(curves[len(wheels) :], intervals)
    losses = [_wheel_loss(c, intervals[c.wheel.id], before) for c in curves[: len(wheels)]]
    return WeightLossAnswer(
        lot=row.code,
        kind=kind_of(row.kind),
        as_of=snap.as_of,
        safety_note=SAFETY_NOTE,
        wheels=losses,
        least_wheels=LEAST_WHEELS,
        product=product,
        corridor=[_corridor_point(one) for one in before.corridor],
        outside=[one.lot for one in losses if one.outside],
        explained=_vapour_loss(before.slope),
        notes=_notes(row, wheels, product, before, losses),
    )


def _wheels_of(snap: ReadTransaction, row: LotRow) -> list[WheelRow]:
    if kind_of(row.kind) == "make":
        return snap.wheels_of_make(row.id)
    if kind_of(row.kind) != "wheel" or row.born_us is None or row.born_seq is None:
        return []
    return [WheelRow(row.id, row.code, row.product, row.born_us, row.born_seq, row.made_g)]


def _past_wheels(
    snap: ReadTransaction, wheels: Sequence[WheelRow], product: str | None
) -> list[WheelRow]:
    if product is None:
        return []
    before_us = min(wheel.born_us for wheel in wheels)
    return snap.newest_wheels(WheelFilter(product=product, before_us=before_us), MOST_PAST_WHEELS)


def _curves(snap: ReadTransaction, wheels: Sequence[WheelRow]) -> list[WheelCurve]:
    marks: dict[int, list[MarkRow]] = {}
    if wheels:
        for mark in snap.marks([wheel.id for wheel in wheels], CURVE_KINDS):
            marks.setdefault(mark.lot_id, []).append(mark)
    return [curve_of(wheel, marks.get(wheel.id, ())) for wheel in wheels]


def _intervals(curve: WheelCurve, stays: Sequence[InRoom], air: RoomsAir) -> list[_Interval]:
    """Give the interval before each weighing."""
    begin_us, mass_g, lost_g = curve.wheel.born_us, curve.wheel.made_g, 0
    found = []
    for one in curve.weighings:
        sums = air.over(stays, begin_us, one.at_us)
        is_observed = sums.both_us >= _LEAST_OBSERVED * (one.at_us - begin_us)
        deficit = sums.deficit_kpa_h if is_observed and one.at_us > begin_us else None
        found.append(_Interval(begin_us, mass_g, one.lost_g - lost_g, deficit))
        begin_us, mass_g, lost_g = one
    return found


def _past(curves: Sequence[WheelCurve], intervals: dict[int, list[_Interval]]) -> _Past:
    drying = [
        DryingInterval(curve.wheel.id, one.deficit_kpa_h or 0.0, 1_000 * one.lost_g / one.mass_g)
        for curve in curves
        for one in intervals[curve.wheel.id]
        if one.is_drying(curve.wheel)
    ]
    return _Past(
        wheels=len(curves),
        corridor=corridor_of((curve.points() for curve in curves), LEAST_WHEELS),
        slope=drying_slope(drying, LEAST_WHEELS),
    )


# --- the answer ---------------------------------------------------------------------------------


def _wheel_loss(curve: WheelCurve, intervals: Sequence[_Interval], past: _Past) -> WheelLoss:
    wheel = curve.wheel
    points = [
        LossPoint(
            at=from_us(one.at_us),
            age_days=round((one.at_us - wheel.born_us) / DAY_US, 6),
            mass_g=one.mass_g,
            lost_g=one.lost_g,
            lost_pct=round(point.lost_pct, 6),
            corridor=side_of(past.corridor, point.age_us, point.lost_pct),
            lost_since_g=interval.lost_g,
            vapour_pressure_deficit_kpa_h=(
                None if interval.deficit_kpa_h is None else round(interval.deficit_kpa_h, 6)
            ),
            expected_lost_g=_expected_g(wheel, interval, past.slope),
        )
        for one, point, interval in zip(curve.weighings, curve.points()[1:], intervals, strict=True)
    ]
    return WheelLoss(
        lot=wheel.code,
        hooped_at=from_us(wheel.born_us),
        hooped_g=wheel.made_g,
        points=points,
        outside=any(point.corridor in ("below", "above") for point in points),
    )


def _expected_g(wheel: WheelRow, interval: _Interval, slope: DryingSlope | None) -> float | None:
    if slope is None or interval.deficit_kpa_h is None or not interval.is_drying(wheel):
        return None
    return round(slope.slope * interval.deficit_kpa_h * interval.mass_g / 1_000, 1)


def _corridor_point(one: Corridor) -> CorridorPoint:
    return CorridorPoint(
        age_days=7 * one.week,
        wheels=one.wheels,
        low_pct=round(one.low_pct, 6),
        median_pct=round(one.median_pct, 6),
        high_pct=round(one.high_pct, 6),
    )


def _vapour_loss(slope: DryingSlope | None) -> VapourLoss | None:
    if slope is None:
        return None
    return VapourLoss(
        wheels=slope.wheels,
        intervals=slope.intervals,
        g_per_kg_kpa_h=round(slope.slope, 6),
        low_g_per_kg_kpa_h=round(slope.low, 6),
        high_g_per_kg_kpa_h=round(slope.high, 6),
        r_squared=round(slope.r_squared, 6),
    )


def _notes(
    row: LotRow,
    wheels: Sequence[WheelRow],
    product: str | None,
    past: _Past,
    losses: Sequence[WheelLoss],
) -> list[str]:
    kind = kind_of(row.kind)
    if kind not in ("wheel", "make"):
        return [f"Weight loss is that of wheels, from hooping to the first cut; this is a {kind}."]
    if not wheels:
        of = "this wheel" if kind == "wheel" else "any wheel of this make"
        return [f"The hooping of {of} has not been told."]
    notes = []
    if product is None:
        notes.append("These wheels are of several products, or of none: no past to lay beside.")
    elif not past.corridor:
        notes.append(
            f"No corridor: of {past.wheels} wheels of this product hooped before, fewer than "
            f"{LEAST_WHEELS} were weighed at any one age."
        )
    else:
        notes.append(
            f"The corridor holds the middle 80 % of {past.wheels} wheels of this product hooped "
            "before, linear between their weighings: at any one age, one in five of them lay "
            "outside."
        )
    if past.slope is not None:
        notes.append(
            "The expected loss is what the past lost a kg and kPa h after the first week, in "
            "which whey still drains. Wheels of one room share its air, so its interval may be "
            "too narrow; an hour that a weighing or move falls in counts by its part."
        )
    unseen = sum(
        point.vapour_pressure_deficit_kpa_h is None for one in losses for point in one.points
    )
    if unseen:
        notes.append(
            f"{unseen} weighings have no deficit: of the time before them, more than "
            f"{round(100 * (1 - _LEAST_OBSERVED))} % of the air was not observed."
        )
    return notes
