"""The measures by which wheels are compared; each name ends with its unit."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from rindline_server.calc.ages import days_between
from rindline_server.calc.losses import WEEK_US, CurvePoint, loss_at
from rindline_server.calc.shared_air import AirSums

__all__ = ["LEAST_OBSERVED", "Life", "measures_of", "shared_week"]

LEAST_OBSERVED = 0.5
"""A wheel has figures of its air if at least this part of its time was observed."""

_WEEK_HOURS = 168
_HOUR_US = 3_600_000_000


class Life(NamedTuple):
    """What a wheel went through from hooping until it was judged (or cut, or now).

    ``piercings`` are (time, holes if told); ``turnings`` is None where nobody tells of turning.
    """

    born_us: int
    until_us: int
    air: AirSums
    piercings: Sequence[tuple[int, int | None]]
    turnings: int | None
    losses: Sequence[CurvePoint]


def measures_of(life: Life, week: int | None) -> dict[str, float]:
    """Give the measures a wheel has, always in the same order.

    Rates a week make wheels of different age comparable. The loss is that at ``week`` weeks of
    age, linear between weighings, and only if the wheel was weighed at that age or later.
    """
    measures = _air_measures(life)
    lost_pct = loss_at(life.losses, week * WEEK_US) if week else None
    if week and lost_pct is not None:
        measures[f"lost_at_{week}_weeks_pct"] = lost_pct
    if life.piercings:
        measures["age_at_piercing_days"] = days_between(life.born_us, life.piercings[0][0])
        holes = [count for _, count in life.piercings if count is not None]
        if len(holes) == len(life.piercings):
            measures["holes"] = float(sum(holes))
    weeks = (life.until_us - life.born_us) / WEEK_US
    if life.turnings is not None and weeks >= 1:
        measures["turnings_per_week"] = life.turnings / weeks
    return measures


def shared_week(curves: Iterable[Sequence[CurvePoint]]) -> int | None:
    """Give the oldest whole week of age that four in five of the weighed wheels reached."""
    reached = sorted(
        (curve[-1].age_us // WEEK_US for curve in curves if len(curve) > 1), reverse=True
    )
    if not reached:
        return None
    return reached[-(-len(reached) * 4 // 5) - 1] or None


def _air_measures(life: Life) -> dict[str, float]:
    air, least_us = life.air, LEAST_OBSERVED * (life.until_us - life.born_us)
    measures = {}
    if air.c_us and air.c_us >= least_us:
        measures["mean_c"] = air.area_c_h * _HOUR_US / air.c_us
    if air.humidity_us and air.humidity_us >= least_us:
        measures["mean_humidity_pct"] = air.area_pct_h * _HOUR_US / air.humidity_us
    if air.both_us and air.both_us >= least_us:
        measures["deficit_mean_kpa"] = air.deficit_kpa_h * _HOUR_US / air.both_us
    for what, outside_us, observed_us in (
        ("too_cold", air.too_cold_us, air.c_us),
        ("too_warm", air.too_warm_us, air.c_us),
        ("too_dry", air.too_dry_us, air.humidity_us),
        ("too_damp", air.too_damp_us, air.humidity_us),
    ):
        if observed_us and observed_us >= least_us:
            measures[f"{what}_hours_per_week"] = _WEEK_HOURS * outside_us / observed_us
    return measures
