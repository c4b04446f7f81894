"""When a mass counts: the state machine over readings and their times."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline import InvalidInputError
from rindline.stations import Reading, StabilityDetector, State, WeighRule

_RULE = WeighRule(readings=3, seconds=1.0, tolerance_g=2, least_g=20, most_g=10_000, silence_s=3)


def _states(detector: StabilityDetector, *readings: tuple[float, Reading]) -> list[State]:
    return [detector.feed(reading, at_s).state for at_s, reading in readings]


def _at(
    *masses: int, stable: bool | None = None, every_s: float = 0.5
) -> list[tuple[float, Reading]]:
    return [(i * every_s, Reading(mass_g, stable)) for i, mass_g in enumerate(masses)]


def test_readings_and_seconds_must_both_be_enough() -> None:
    """Three readings within the tolerance over a second stand; three in a moment do not."""
    assert _states(StabilityDetector(_RULE), *_at(8010, 8012, 8011)) == [
        "unsettled",
        "unsettled",
        "stable",
    ]
    quick = _states(StabilityDetector(_RULE), *_at(8010, 8012, 8011, every_s=0.01))
    assert quick == ["unsettled"] * 3


def test_the_spread_of_the_whole_run_counts() -> None:
    """A slow creep, each step within the tolerance, does not stand."""
    creeping = _at(*range(8000, 8040, 2))
    assert "stable" not in _states(StabilityDetector(_RULE), *creeping)


def test_the_scales_own_word_is_needed_where_it_has_one() -> None:
    """Equal readings that the scale calls unstable never stand."""
    detector = StabilityDetector(_RULE)
    assert set(_states(detector, *_at(*[8000] * 9, stable=False))) == {"unsettled"}


@pytest.mark.parametrize(
    ("mass_g", "state"),
    [(-120, "below_zero"), (0, "empty"), (19, "empty"), (20, "stable"), (10_000, "stable"),
     (10_001, "over")],
)  # fmt: skip
def test_only_a_mass_in_range_stands(mass_g: int, state: State) -> None:
    """Below zero, empty and over the most are states of their own, however still they stand."""
    assert _states(StabilityDetector(_RULE), *_at(*[mass_g] * 5))[-1] == state


def test_silence_and_interruption_begin_anew() -> None:
    """Readings from before a silence or a garbled line do not count with those after."""
    detector = StabilityDetector(_RULE)
    _states(detector, *_at(8000, 8000))
    assert detector.feed(Reading(8000), 9.0).state == "unsettled"
    detector.feed(Reading(8000), 9.6)
    detector.interrupt()
    assert detector.feed(Reading(8000), 10.2).state == "unsettled"
    assert detector.check_silence(14.0).state == "silent"


def test_a_mass_is_given_once_until_the_scale_was_empty() -> None:
    """The same piece is not taken twice; one low line, perhaps cut short, does not free it."""
    detector = StabilityDetector(_RULE)
    with pytest.raises(ValueError, match="no mass"):
        detector.take()
    _states(detector, *_at(8000, 8000, 8000))
    assert detector.take() == 8000
    with pytest.raises(ValueError, match="no mass"):
        detector.take()
    later = [(2 + i * 0.5, Reading(g)) for i, g in enumerate([8000, 0, 8000, 8000, 8000, 8000])]
    assert _states(detector, *later) == ["taken", "empty", *["taken"] * 4]
    freed = [(6 + i * 0.5, Reading(g)) for i, g in enumerate([0, 0, 8000, 8000, 8000])]
    assert _states(detector, *freed)[-1] == "stable"


def test_a_scale_with_a_button_gives_a_mass_a_line() -> None:
    """With ``readings=1`` each line is a weighing of its own, and no emptying is seen."""
    detector = StabilityDetector(WeighRule(readings=1, seconds=0))
    assert detector.feed(Reading(200), 0).state == "stable"
    assert detector.take() == 200
    assert detector.feed(Reading(201), 10).state == "stable"


@pytest.mark.parametrize(
    "rule",
    [{"readings": 0}, {"seconds": -1}, {"tolerance_g": -1}, {"least_g": 0}, {"silence_s": 0},
     {"least_g": 500, "most_g": 400}],
)  # fmt: skip
def test_a_rule_that_cannot_be_is_refused(rule: dict[str, int]) -> None:
    """No readings at all, a range without masses, limits below zero: an error at once."""
    with pytest.raises(InvalidInputError):
        WeighRule(**rule)


@given(
    st.lists(
        st.tuples(
            st.sampled_from([0.0, 0.1, 0.4, 4.0]),
            st.sampled_from([-5, 0, 10, 7998, 8000, 8002, 8005, 9000, 20_000]),
            st.sampled_from([True, False, None]),
        ),
        max_size=60,
    )
)
def test_what_stands_has_stood(steps: list[tuple[float, int, bool | None]]) -> None:
    """For any history: whenever a mass stands, the last readings before it were in range, none
    called unstable, together within the tolerance, enough of them, over enough time, and no gap.
    """
    detector = StabilityDetector(_RULE)
    seen: list[tuple[float, int, bool | None]] = []
    now_s = 0.0
    for wait_s, mass_g, stable in steps:
        now_s += wait_s
        seen.append((now_s, mass_g, stable))
        if detector.feed(Reading(mass_g, stable), now_s).state != "stable":
            continue
        run = [step for step in seen if now_s - step[0] <= _RULE.seconds + 4]
        while max(g for _, g, _ in run) - min(g for _, g, _ in run) > 2 or any(
            flag is False for _, _, flag in run
        ):
            run.pop(0)
        assert len(run) >= _RULE.readings
        assert now_s - run[0][0] >= _RULE.seconds
        assert all(20 <= g <= 10_000 for _, g, _ in run)
