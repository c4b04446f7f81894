"""When a mass counts: it stood still, long enough, in range, and is not the one taken before.

A state machine over readings and the seconds at which they came. Pure: no port, no clock.
"""

from dataclasses import dataclass
from typing import Literal

from rindline.errors import InvalidInputError
from rindline.stations._readings import Reading

__all__ = ["StabilityDetector", "Standing", "State", "WeighRule"]

State = Literal[
    "silent", "disconnected", "below_zero", "empty", "over", "unsettled", "stable", "taken"
]


@dataclass(frozen=True, slots=True)
class WeighRule:
    """What a mass must do to be taken.

    So many ``readings`` one after the other, over at least so many ``seconds``, all within
    ``tolerance_g`` of one another, each called stable by the scale if its lines say so; from
    ``least_g`` to ``most_g``. ``silence_s`` without a reading begins anew.

    ``readings=1`` is for a scale that writes one line when its button is pressed; any other must
    be emptied before its next mass is taken, so that no piece is taken twice.
    """

    readings: int = 3
    seconds: float = 0.5
    tolerance_g: int = 2
    least_g: int = 20
    most_g: int = 60_000
    silence_s: float = 3.0

    def __post_init__(self) -> None:
        if self.readings < 1 or self.seconds < 0 or self.tolerance_g < 0 or self.silence_s <= 0:
            raise InvalidInputError("A mass needs at least one reading; no limit is below zero.")
        if not 1 <= self.least_g <= self.most_g:
            raise InvalidInputError("The range of masses begins at 1 g or more and does not end.")


@dataclass(frozen=True, slots=True)
class Standing:
    """How the scale stands: the newest mass in grams, if one came lately, and its state.

    ``detail`` says why, where the state alone does not (``disconnected``).
    """

    state: State
    mass_g: int | None = None
    detail: str = ""


class StabilityDetector:
    """Follows the readings; says when a mass stands, and gives it once."""

    def __init__(self, rule: WeighRule) -> None:
        self._rule = rule
        self._run: list[int] = []
        self._began_s = 0.0
        self._last_s: float | None = None
        self._empties = 0
        self._armed = True
        self.standing = Standing("silent")

    def feed(self, reading: Reading, at_s: float) -> Standing:
        """Take a reading that came at ``at_s`` (seconds of any steady clock)."""
        self.check_silence(at_s)
        self._last_s = at_s
        self._see_empty(reading.mass_g)
        within = [*self._run, reading.mass_g]
        if reading.stable is False:
            self._run = []
        elif not self._run or max(within) - min(within) > self._rule.tolerance_g:
            self._run = [reading.mass_g]
            self._began_s = at_s
        else:
            self._run = within
        self.standing = Standing(self._state(reading.mass_g, at_s), reading.mass_g)
        return self.standing

    def interrupt(self) -> None:
        """Something unreadable came, or nothing could: what stood before stands no more."""
        self._run = []
        self._empties = 0
        self.standing = Standing("unsettled", self.standing.mass_g)

    def check_silence(self, at_s: float) -> Standing:
        """Notice that no reading came for too long."""
        if self._last_s is None or at_s - self._last_s > self._rule.silence_s:
            self.interrupt()
            self.standing = Standing("silent")
        return self.standing

    def take(self) -> int:
        """Give the mass that stands, in grams, once; raises ValueError if none does."""
        standing = self.standing
        if standing.state != "stable" or standing.mass_g is None:
            raise ValueError("no mass stands on the scale")
        self._armed = self._rule.readings == 1
        self._run = []
        self._empties = 0
        self.standing = Standing("taken", standing.mass_g)
        return standing.mass_g

    def _see_empty(self, mass_g: int) -> None:
        # One line cut short can look like an empty scale; two in a row hardly.
        self._empties = self._empties + 1 if mass_g < self._rule.least_g else 0
        if self._empties >= 2:
            self._armed = True

    def _state(self, mass_g: int, at_s: float) -> State:
        rule = self._rule
        if mass_g < 0:
            return "below_zero"
        if mass_g < rule.least_g:
            return "empty"
        if mass_g > rule.most_g:
            return "over"
        if not self._armed:
            return "taken"
        stood = len(self._run) >= rule.readings and at_s - self._began_s >= rule.seconds
        return "stable" if stood else "unsettled"
