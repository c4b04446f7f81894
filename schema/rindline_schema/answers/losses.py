"""Weight loss: the observed curve of each wheel, the corridor of the past, what air explains."""

from datetime import datetime

from rindline_schema.answers.telling import Answer
from rindline_schema.registers import LotKind

__all__ = ["CorridorPoint", "LossPoint", "VapourLoss", "WeightLossAnswer", "WheelLoss"]


class LossPoint(Answer, kw_only=True, frozen=True):
    """One weighing of a wheel: what was lost since hooping, and beside it the air's part.

    Plugs taken with the iron are added back. ``vapour_pressure_deficit_kpa_h`` is the integral
    of the air's deficit since the weighing before; ``expected_lost_g`` what such air took from
    wheels of the past. ``corridor`` is within, below, above, or unknown (too few in the past).
    """

    at: datetime
    age_days: float
    mass_g: int
    lost_g: int
    lost_pct: float
    corridor: str
    lost_since_g: int | None = None
    vapour_pressure_deficit_kpa_h: float | None = None
    expected_lost_g: float | None = None


class WheelLoss(Answer, kw_only=True, frozen=True):
    """The curve of one wheel, from hooping to its first cut; ages count from hooping."""

    lot: str
    hooped_at: datetime
    hooped_g: int
    points: list[LossPoint]
    outside: bool = False


class CorridorPoint(Answer, kw_only=True, frozen=True):
    """What past wheels had lost at an age: the 10 %, 50 % and 90 % quantiles over the wheels."""

    age_days: int
    wheels: int
    low_pct: float
    median_pct: float
    high_pct: float


class VapourLoss(Answer, kw_only=True, frozen=True):
    """How the past wheels' loss went with the air: grams a kg of wheel and kPa h of deficit.

    The slope through the origin over all intervals between weighings after the first week, with
    a 95 % interval that treats each wheel as one observation; ``r_squared`` is the part of the
    squared differences from the mean loss that it explains (below 0: less than the mean alone).
    """

    wheels: int
    intervals: int
    g_per_kg_kpa_h: float
    low_g_per_kg_kpa_h: float
    high_g_per_kg_kpa_h: float
    r_squared: float


class WeightLossAnswer(Answer, kw_only=True, frozen=True):
    """Weight loss of a wheel, or of all wheels of a make.

    The corridor comes from wheels of the same product hooped before these (the newest 1,000);
    an age with fewer than ``least_wheels`` of them has none. ``outside`` names the wheels with a
    weighing outside it.
    """

    lot: str
    kind: LotKind
    as_of: int
    safety_note: str
    wheels: list[WheelLoss]
    least_wheels: int
    product: str | None = None
    corridor: list[CorridorPoint] = []
    outside: list[str] = []
    explained: VapourLoss | None = None
    notes: list[str] = []
