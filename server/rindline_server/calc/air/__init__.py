"""The figures of the air: from readings to stretches, from stretches to sums, to figures."""

from rindline_server.calc.air.rule import AirRule
from rindline_server.calc.air.tally import NOTHING_OBSERVED, Tally

__all__ = ["NOTHING_OBSERVED", "AirRule", "Tally"]
