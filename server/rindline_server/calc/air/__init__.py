"""The figures of the air: from readings to stretches, from stretches to sums, to figures."""

from rindline_server.calc.air.adding import hourly, merge, spells_of, unseen_of, unseen_over
from rindline_server.calc.air.doubts import (
    DOUBT_RULE,
    Doubtful,
    DoubtRule,
    doubts,
    window_for,
)
from rindline_server.calc.air.figures import Figures, Range, figures, percentile
from rindline_server.calc.air.kinetic import mean_kinetic_c
from rindline_server.calc.air.limits import NO_LIMITS, Limits, LimitSpan
from rindline_server.calc.air.packing import Spell
from rindline_server.calc.air.psychrometrics import deficit_kpa, dew_point_c, saturation_pa
from rindline_server.calc.air.rule import AirRule
from rindline_server.calc.air.series import (
    HOUR_US,
    Sample,
    Stretch,
    sample_at,
    sample_of,
    stretches,
)
from rindline_server.calc.air.summing import INTEGRATION_RULE, tally
from rindline_server.calc.air.tally import NOTHING_OBSERVED, Tally

__all__ = [
    "DOUBT_RULE",
    "HOUR_US",
    "INTEGRATION_RULE",
    "NOTHING_OBSERVED",
    "NO_LIMITS",
    "AirRule",
    "DoubtRule",
    "Doubtful",
    "Figures",
    "LimitSpan",
    "Limits",
    "Range",
    "Sample",
    "Spell",
    "Stretch",
    "Tally",
    "deficit_kpa",
    "dew_point_c",
    "doubts",
    "figures",
    "hourly",
    "mean_kinetic_c",
    "merge",
    "percentile",
    "sample_at",
    "sample_of",
    "saturation_pa",
    "spells_of",
    "stretches",
    "tally",
    "unseen_of",
    "unseen_over",
    "window_for",
]
