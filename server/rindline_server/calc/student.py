"""Student's t distribution: how many standard errors an interval must reach."""

from math import exp, lgamma, log, log1p

__all__ = ["student_quantile", "student_tail"]

_TINY = 1e-300
_ENOUGH = 1e-15
_MOST_TERMS = 500
_MOST_HALVINGS = 200


def student_quantile(tail: float, freedom: float) -> float:
    """Give the t that is exceeded with probability ``tail`` (above 0, at most 0.5).

    ``freedom`` is the degrees of freedom, above 0, whole or not.
    """
    low, high = 0.0, 1.0
    while student_tail(high, freedom) > tail:
        low, high = high, high * 2
    for _ in range(_MOST_HALVINGS):
        middle = (low + high) / 2
        if middle in (low, high) or high - low < 1e-10 * high:
            break
        if student_tail(middle, freedom) > tail:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def student_tail(t: float, freedom: float) -> float:
    """Give the probability that Student's t exceeds ``t`` (0 or more)."""
    return _incomplete_beta(freedom / (freedom + t * t), freedom / 2, 0.5) / 2


def _incomplete_beta(x: float, a: float, b: float) -> float:
    """Give the regularised incomplete beta function, from 0 to 1.

    By its continued fraction (Abramowitz and Stegun 26.5.8), which converges quickly on the near
    side of the mean; the far side follows by symmetry.
    """
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x))
    if x < (a + 1) / (a + b + 2):
        return front * _fraction(x, a, b) / a
    return 1 - front * _fraction(1 - x, b, a) / b


def _fraction(x: float, a: float, b: float) -> float:
    """Work the continued fraction out from its front, keeping numerator and denominator apart."""
    upper, lower = 1.0, _off_zero(1 - (a + b) * x / (a + 1))
    lower = 1 / lower
    value = lower
    for m in range(1, _MOST_TERMS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        change = 1.0
        for term in (even, odd):
            lower = 1 / _off_zero(1 + term * lower)
            upper = _off_zero(1 + term / upper)
            change = lower * upper
            value *= change
        if abs(change - 1) < _ENOUGH:
            break
    return value


def _off_zero(number: float) -> float:
    return number if abs(number) > _TINY else _TINY
