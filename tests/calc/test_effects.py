"""Effect sizes: the same figures as scipy's and numpy's, and intervals that know of makes."""

from collections.abc import Sequence
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from rindline_server.calc.effects import (
    ALLOWED,
    Effect,
    Measured,
    _delta,
    _effective,
    compare,
)
from rindline_server.calc.pair_differences import PairDifferences
from rindline_server.calc.quantiles import quantile
from rindline_server.calc.student import student_quantile, student_tail

_MEASURES = 11

Side = list[Measured]

_whole = st.integers(-30, 30)
_few = st.lists(_whole, min_size=1, max_size=12)
_measured = st.lists(
    st.builds(Measured, st.integers(-40, 40).map(lambda n: n / 8), st.sampled_from("ABCDE")),
    min_size=1,
    max_size=25,
)


def _of_makes(values: Sequence[Sequence[float]], name: str) -> list[Measured]:
    return [Measured(v, f"{name}{n}") for n, some in enumerate(values) for v in some]


def _strangers(side: Sequence[Measured], name: str) -> list[Measured]:
    """The same values as if each wheel were of a make of its own."""
    return [Measured(one.value, f"{name}{n}") for n, one in enumerate(side)]


# --- the figures themselves ---------------------------------------------------------------------


@given(st.floats(0.0001, 0.4999), st.floats(1.0, 200.0))
def test_student_is_scipys(tail: float, freedom: float) -> None:
    """Quantiles of Student's t agree with scipy, also for degrees of freedom that aren't whole."""
    t = student_quantile(tail, freedom)
    assert t == pytest.approx(stats.t.isf(tail, freedom), rel=1e-7, abs=1e-9)
    assert student_tail(t, freedom) == pytest.approx(tail, rel=1e-9)


def test_student_of_many_is_normal() -> None:
    """With a million degrees of freedom the quantile is that of the normal distribution."""
    expected = NormalDist().inv_cdf(0.975)
    assert student_quantile(0.025, 1_000_000) == pytest.approx(expected, rel=1e-5)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40), st.floats(0, 1))
def test_quantiles_are_numpys(values: list[float], share: float) -> None:
    """Quantiles agree with numpy's usual definition, and lie within the values."""
    found = quantile(sorted(values), share)
    assert found == pytest.approx(np.quantile(values, share), rel=1e-9, abs=1e-6)
    assert min(values) <= found <= max(values)


@given(_few, _few)
def test_pair_differences_are_those_written_down(xs: list[int], ys: list[int]) -> None:
    """Each place in the order of all differences, and twice their median, as numpy has them."""
    differences = sorted(x - y for x in xs for y in ys)
    pairs = PairDifferences(xs, ys)
    assert pairs.count == len(differences)
    assert [pairs.nth(n) for n in range(1, pairs.count + 1)] == differences
    assert pairs.twice_median() == 2 * np.median(differences)


@given(_measured, _measured)
def test_delta_and_shift_are_scipys_and_numpys(one: list[Measured], other: list[Measured]) -> None:
    """Cliff's delta is 2 U / (m n) - 1 of the Mann-Whitney test, ties and all; the shift is the
    median of all differences."""
    effect = compare(one, other, _MEASURES)
    xs, ys = [m.value for m in one], [m.value for m in other]
    u = stats.mannwhitneyu(xs, ys, method="asymptotic").statistic
    assert effect.effect == pytest.approx(2 * u / (len(xs) * len(ys)) - 1, abs=1e-12)
    assert effect.shift == pytest.approx(np.median(np.subtract.outer(xs, ys)), abs=1e-6)


@given(_measured, _measured)
def test_swapping_the_sides_swaps_the_signs(one: list[Measured], other: list[Measured]) -> None:
    """Delta, shift and both intervals are antisymmetric, and clear from either side or neither."""
    there, back = compare(one, other, _MEASURES), compare(other, one, _MEASURES)
    assert back.effect == pytest.approx(-there.effect, abs=1e-12)
    assert back.shift == -there.shift
    assert back.low_effect == pytest.approx(-there.high_effect, abs=1e-9)
    assert back.high_effect == pytest.approx(-there.low_effect, abs=1e-9)
    assert back.low_shift == (None if there.high_shift is None else -there.high_shift)
    assert back.high_shift == (None if there.low_shift is None else -there.low_shift)
    assert back.is_clear == there.is_clear


@given(_measured, _measured)
def test_intervals_hold_their_estimates(one: list[Measured], other: list[Measured]) -> None:
    """Delta and its bounds stay within -1 and 1; each interval holds its estimate; clear means
    that both leave out 0."""
    effect = compare(one, other, _MEASURES)
    assert -1 <= effect.low_effect <= effect.effect + 1e-12
    assert effect.effect - 1e-12 <= effect.high_effect <= 1
    if effect.low_shift is None or effect.high_shift is None:
        assert effect.low_shift is effect.high_shift is None
        assert not effect.is_clear
        assert effect.low_effect <= 0 <= effect.high_effect
    else:
        assert effect.low_shift <= effect.shift <= effect.high_shift
    if effect.is_clear:
        assert effect.low_effect * effect.high_effect > 0
        assert effect.low_shift * effect.high_shift > 0  # type: ignore[operator]


@given(_measured, _measured)
def test_the_variance_is_that_of_leaving_makes_out(
    one: list[Measured], other: list[Measured]
) -> None:
    """The jackknife worked out by sums is the one that computes delta anew without each make."""
    makes = sorted({m.make for m in (*one, *other)})
    without = [
        ([m.value for m in one if m.make != make], [m.value for m in other if m.make != make])
        for make in makes
    ]
    assume(all(xs and ys for xs, ys in without))

    def delta(xs: list[float], ys: list[float]) -> float:
        return float(np.mean(np.sign(np.subtract.outer(xs, ys))))

    whole = delta([m.value for m in one], [m.value for m in other])
    squares = sum((delta(*sides) - whole) ** 2 for sides in without)
    sides = (
        [round(m.value * 8) for m in one],
        [m.make for m in one],
        [round(m.value * 8) for m in other],
        [m.make for m in other],
    )
    effect, error = _delta(sides)
    assert effect == pytest.approx(whole, abs=1e-12)
    assert error.variance == pytest.approx(squares * (len(makes) - 1) / len(makes), abs=1e-9)


def test_the_variance_of_strangers_is_the_known_one() -> None:
    """With each wheel a make of its own, the error is that of the test of Brunner and Munzel,
    which scipy has, but for terms that vanish with the number of wheels."""
    rng = np.random.default_rng(20)
    xs, ys = rng.normal(0.4, 1, 60), rng.normal(0, 2, 50)
    sides = ([round(x * 1e6) for x in xs], [f"x{n}" for n in range(60)])
    others = ([round(y * 1e6) for y in ys], [f"y{n}" for n in range(50)])
    effect, error = _delta((*sides, *others))
    statistic = stats.brunnermunzel(xs, ys).statistic
    assert effect / error.variance**0.5 == pytest.approx(-statistic, rel=0.03)


def test_degrees_of_freedom_go_by_makes() -> None:
    """Ten like makes against ten leave 18 degrees of freedom however many wheels they have (as in
    a t-test of their means), and twelve on both sides ten."""
    rng = np.random.default_rng(3)
    spread = rng.normal(0, 1, (20, 6)).tolist()

    def freedom(one: Side, other: Side) -> float:
        in_steps = [[round(m.value * 1e6) for m in side] for side in (one, other)]
        makes = [[m.make for m in side] for side in (one, other)]
        return _delta((in_steps[0], makes[0], in_steps[1], makes[1]))[1].freedom

    assert 12 <= freedom(_of_makes(spread[:10], "a"), _of_makes(spread[10:], "b")) <= 18
    assert freedom(_of_makes(spread[:12], "m"), _of_makes(spread[8:], "m")) == pytest.approx(10)


def test_uneven_makes_count_for_fewer() -> None:
    """Makes are counted by their evenness: equal ones for as many as they are, one that has
    nearly all the wheels for hardly more than one."""
    assert _effective([5, 5, 5, 5]) == 4
    assert _effective([97, 1, 1, 1]) == pytest.approx(1.06, abs=0.01)


# --- how sure it is -----------------------------------------------------------------------------


def _apart(rng: np.random.Generator, shift: float = 0.0) -> tuple[Side, Side]:
    """Twenty makes, each wholly on one side; most of what wheels differ by is their make's."""
    makes = rng.normal(0, 0.8, 20)[:, None] + rng.normal(0, 0.6, (20, 5))
    return _of_makes((makes[:10] + shift).tolist(), "a"), _of_makes(makes[10:].tolist(), "b")


def _together(rng: np.random.Generator, shift: float = 0.0) -> tuple[Side, Side]:
    """Twelve makes on both sides, wheels from three to eight a side."""
    one, other = Side(), Side()
    for n in range(12):
        make = rng.normal(0, 0.8)
        for side, more in ((one, shift), (other, 0.0)):
            # The wheels of a make on one side are nearer to one another still.
            here = make + rng.normal(0, 0.5) + more
            side += [
                Measured(here + rng.normal(0, 0.6), f"m{n}") for _ in range(rng.integers(3, 9))
            ]
    return one, other


_RUNS = 80
_MOST_ERRORS = int(stats.binom.ppf(0.999, _RUNS, ALLOWED))


def _errors(scene: object, *, as_strangers: bool = False, measures: int = _MEASURES) -> int:
    """Count the comparisons of 11 measures that find some clear difference where there is none."""
    rng = np.random.default_rng(404)
    errors = 0
    for _ in range(_RUNS):
        sides = [scene(rng) for _ in range(_MEASURES)]  # type: ignore[operator]
        if as_strangers:
            sides = [(_strangers(one, "a"), _strangers(other, "b")) for one, other in sides]
        errors += any(compare(one, other, measures).is_clear for one, other in sides)
    return errors


@pytest.mark.parametrize("scene", [_apart, _together])
def test_where_there_is_no_difference_hardly_any_is_found(scene: object) -> None:
    """Of 80 comparisons of 11 measures that differ by make but not by side, those that call any
    measure clearly different are no more than 5 %, with the slack that 80 throws allow."""
    assert _errors(scene) <= _MOST_ERRORS


@pytest.mark.parametrize("scene", [_apart, _together])
def test_wheels_taken_for_strangers_would_find_differences(scene: object) -> None:
    """The same comparisons, had each wheel counted for itself, go wrong more often than that:
    what keeps them right is that wheels of one make count as kin."""
    assert _errors(scene, as_strangers=True) > _MOST_ERRORS


@pytest.mark.parametrize("scene", [_apart, _together])
def test_each_measure_by_itself_would_find_differences(scene: object) -> None:
    """So they do if each measure is looked at as if it were the only one."""
    assert _errors(scene, measures=1) > _MOST_ERRORS


def test_a_real_difference_is_found() -> None:
    """Intervals that are never wrong because they hold everything would be of no use: a shift of
    three standard deviations between ten makes a side is nearly always clear, and lies within its
    interval."""
    rng = np.random.default_rng(7)
    found = [compare(*_apart(rng, 3.0), _MEASURES) for _ in range(60)]
    assert sum(effect.is_clear for effect in found) >= 50
    held = sum(
        effect.low_shift is None or effect.low_shift <= 3.0 <= (effect.high_shift or 3.0)
        for effect in found
    )
    assert held >= 58


def _constant(makes: int, per_make: int = 10) -> Effect:
    """Every make of the one side at 100, of the other at 80."""
    return compare(
        _of_makes([[100.0] * per_make] * makes, "a"),
        _of_makes([[80.0] * per_make] * makes, "b"),
        _MEASURES,
    )


def test_few_makes_part_by_chance() -> None:
    """Four makes against four, without overlap and without any spread within: 2 of the 70 ways to
    part eight makes look like this, more than 5 % among 11 measures. So nothing is clear, however
    many wheels they have, and the interval says so; ten against ten are."""
    few = _constant(4, per_make=40)
    assert few.effect == 1
    assert (few.low_effect, few.low_shift, few.high_shift) == (0, None, None)
    assert not few.is_clear
    many = _constant(10)
    assert many.is_clear
    assert (many.low_shift, many.shift, many.high_shift) == (20, 20, 20)


def test_separation_does_not_hide_the_spread() -> None:
    """Where the sides do not overlap at all, leaving makes out changes no delta: how far makes
    spread shows once the sides are laid upon one another. So no interval is a single point."""
    makes = [[float(n), n + 0.5] for n in range(12)]
    effect = compare(
        _of_makes([[value + 100 for value in make] for make in makes], "a"),
        _of_makes(makes, "b"),
        _MEASURES,
    )
    assert (effect.effect, effect.shift) == (1, 100)
    assert effect.is_clear
    assert effect.low_effect < 0.9
    assert effect.low_shift is not None
    assert effect.high_shift is not None
    assert effect.low_shift < 98
    assert effect.high_shift > 102


def test_one_make_shows_no_spread() -> None:
    """A side of a single make cannot say how makes differ: nothing is clear, however many makes
    the other side has."""
    one = _of_makes([[100.0] * 50], "a")
    other = _of_makes([[80.0] * 5] * 1_000, "b")
    effect = compare(one, other, 1)
    assert (effect.low_shift, effect.high_shift) == (None, None)
    assert not effect.is_clear


def test_more_measures_make_wider_intervals() -> None:
    """What is clear when looked at alone may not be among eleven."""
    rng = np.random.default_rng(5)
    one, other = _apart(rng, 1.0)
    alone, among = compare(one, other, 1), compare(one, other, _MEASURES)
    assert alone.low_effect > among.low_effect
    assert alone.high_effect < among.high_effect
    assert alone.effect == among.effect


def test_a_hundred_kin_say_no_more_than_ten() -> None:
    """More wheels of the same makes, each like its kin, do not make anything surer."""
    rng = np.random.default_rng(9)
    makes = rng.normal(0, 1, 20).tolist()
    tenfold = [
        compare(
            _of_makes([[value] * wheels for value in makes[:10]], "a"),
            _of_makes([[value] * wheels for value in makes[10:]], "b"),
            _MEASURES,
        )
        for wheels in (1, 10)
    ]
    assert tenfold[0].low_effect == pytest.approx(tenfold[1].low_effect)
    assert tenfold[0].high_effect == pytest.approx(tenfold[1].high_effect)
