"""How the measures of wheels judged well and badly differ, and whether that says anything."""

from collections.abc import Sequence
from statistics import median

from rindline_schema.answers import Difference, SideOfWheels
from rindline_server.calc.effects import Effect, Measured, compare
from rindline_server.service.wheels.compared import ComparedWheel

__all__ = ["LEAST_MAKES", "LEAST_WHEELS", "differences"]

LEAST_WHEELS = 8
"""How many wheels a side needs for a verdict, at least."""

LEAST_MAKES = 4
"""From how many makes they must be, at least."""

_UNITS = {
    "hours_per_week": "hours a week",
    "per_week": "a week",
    "_days": "days",
    "_kpa": "kPa",
    "_pct": "percentage points",
    "_c": "°C",
}
"""How the end of a measure's name is said; of "holes" there is nothing more to say."""

_Pair = tuple[list[Measured], list[Measured]]


def differences(well: Sequence[ComparedWheel], badly: Sequence[ComparedWheel]) -> list[Difference]:
    """Compare the sides by every measure that any of their wheels has."""
    found = {
        measure: (_values(well, measure), _values(badly, measure))
        for measure in dict.fromkeys(m for wheel in (*well, *badly) for m in wheel.measures)
    }
    # What is the same for all wheels cannot differ by chance either: it takes no share of the 5 %.
    tested = sum(_is_enough(pair) and _varies(pair) for pair in found.values())
    return [_difference(measure, pair, max(1, tested)) for measure, pair in found.items()]


def _values(wheels: Sequence[ComparedWheel], measure: str) -> list[Measured]:
    return [
        Measured(wheel.measures[measure], wheel.make)
        for wheel in wheels
        if measure in wheel.measures
    ]


def _is_enough(pair: _Pair) -> bool:
    return all(
        len(side) >= LEAST_WHEELS and len({one.make for one in side}) >= LEAST_MAKES
        for side in pair
    )


def _varies(pair: _Pair) -> bool:
    return len({one.value for side in pair for one in side}) > 1


def _difference(measure: str, pair: _Pair, tested: int) -> Difference:
    well, badly = (_side(side) for side in pair)
    if not _is_enough(pair):
        return Difference(
            measure=measure,
            well=well,
            badly=badly,
            verdict="too_few",
            in_words=(
                f"Too few to say: {_count(well)} judged well, {_count(badly)} judged badly; at "
                f"least {LEAST_WHEELS} wheels of {LEAST_MAKES} makes are asked on each side."
            ),
        )
    effect = compare(*pair, tested)
    return Difference(
        measure=measure,
        well=well,
        badly=badly,
        verdict="clear_difference" if effect.is_clear else "no_clear_difference",
        in_words=_in_words(measure, effect),
        shift=round(effect.shift, 6),
        low_shift=effect.low_shift,
        high_shift=effect.high_shift,
        effect=round(effect.effect, 6),
        low_effect=round(effect.low_effect, 6),
        high_effect=round(effect.high_effect, 6),
    )


def _side(side: Sequence[Measured]) -> SideOfWheels:
    return SideOfWheels(
        wheels=len(side),
        makes=len({one.make for one in side}),
        median=round(median(one.value for one in side), 6) if side else None,
    )


def _count(side: SideOfWheels) -> str:
    return f"{side.wheels} wheels of {side.makes} makes"


def _in_words(measure: str, effect: Effect) -> str:
    low, high = effect.low_shift, effect.high_shift
    if effect.shift == low == high == 0:
        return "No clear difference: the same in wheels judged well and badly."
    typical = f"typically {_more_or_less(measure, effect.shift)} in wheels judged well"
    if low is None or high is None:
        return f"No clear difference: {typical}, but so few makes could part like this by chance."
    bounds = f"from {_more_or_less(measure, low)} to {_more_or_less(measure, high)}"
    if effect.is_clear:
        return f"A clear difference: {typical}, {bounds}. That is no cause yet."
    return f"No clear difference: {typical}; anything {bounds} agrees with what was told."


def _more_or_less(measure: str, shift: float) -> str:
    if shift == 0:
        return "no difference"
    unit = next((f" {unit}" for end, unit in _UNITS.items() if measure.endswith(end)), "")
    return f"{abs(shift):.3g}{unit} {'more' if shift > 0 else 'less'}"
