"""Ages: whole days of 24 hours that are over, and days in words that never say too much."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline_server.calc.ages import DAY_US, days_between, tenths_down, tenths_up, whole_days
from rindline_server.ledger.times import to_us

_MINUTE_US = 60_000_000
_TIMES = st.integers(-(10**16), 10**16)


def test_a_day_is_over_after_its_last_microsecond() -> None:
    """59 days 23:59 and a microsecond short of 60 days are 59 days; 60 days 0:00 are 60."""
    sixty = 60 * DAY_US
    spans = [sixty - _MINUTE_US, sixty - 1, sixty, sixty + 1, sixty + DAY_US - 1]
    assert [whole_days(7, 7 + span) for span in spans] == [59, 59, 60, 60, 60]


def test_a_changed_clock_makes_no_day_longer() -> None:
    """From noon to noon over the last Sunday of March a day is 23 hours: not yet a whole one."""
    zone = ZoneInfo("CET")
    before = to_us(datetime(2026, 3, 28, 12, tzinfo=zone))
    after = to_us(datetime(2026, 3, 29, 12, tzinfo=zone))
    assert whole_days(before, after) == 0
    assert whole_days(before, to_us(datetime(2026, 3, 29, 13, tzinfo=zone))) == 1


@given(_TIMES, _TIMES)
def test_whole_days_lie_within_the_time(from_us: int, until_us: int) -> None:
    """So many whole days fit into the time, and one more does not."""
    days = whole_days(from_us, until_us)
    assert from_us + days * DAY_US <= until_us < from_us + (days + 1) * DAY_US
    assert days_between(from_us, until_us) == pytest.approx((until_us - from_us) / 86_400e6)


@pytest.mark.parametrize(
    ("minutes", "down", "up"),
    [
        (60 * 1_440, "60.0", "60.0"),
        (60 * 1_440 - 1, "59.9", "60.0"),
        (60 * 1_440 + 1, "60.0", "60.1"),
        (1, "0.0", "0.1"),
        (0, "0.0", "0.0"),
        (144, "0.1", "0.1"),
    ],
)
def test_days_in_words_are_rounded_to_one_side(minutes: int, down: str, up: str) -> None:
    """A minute short of 60 days reads 59.9, and what is missing of them 0.1."""
    assert (tenths_down(minutes * _MINUTE_US), tenths_up(minutes * _MINUTE_US)) == (down, up)


@given(st.integers(0, 10**16))
def test_days_in_words_enclose_the_time(span_us: int) -> None:
    """Rounded down is never more, rounded up never less, and they lie a tenth apart at most."""
    low, high = float(tenths_down(span_us)), float(tenths_up(span_us))
    assert low <= span_us / DAY_US * (1 + 1e-15)
    assert high >= span_us / DAY_US * (1 - 1e-15)
    assert high - low < 0.1001
