"""Local times at the two changes of the clocks, in the order a logger's file has them.

The zone is WET of the public time zone database: in 2025 clocks went forward on 30 March at
01:00 UTC, and back on 26 October at 01:00 UTC (the last Sundays of March and October at one o'clock
in the morning, Greenwich mean time: Directive 2000/84/EC, from memory).
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline.logger_files._local_times import Resolved, resolve_times

ZONE = ZoneInfo("WET")


def _local(*texts: str, day: str = "2025-10-26") -> list[datetime]:
    return [datetime.fromisoformat(f"{day}T{text}") for text in texts]


def _utc(found: list[Resolved]) -> list[str]:
    return [one if isinstance(one, str) else one.astimezone(UTC).strftime("%H:%M") for one in found]


def test_both_passes_of_the_repeated_hour_are_told_apart_by_order() -> None:
    """A step back in the file parts summer time from winter time; equal times step back, too."""
    found = resolve_times(_local("00:30", "01:00", "01:30", "01:00", "01:30", "02:00"), ZONE, None)
    assert _utc(found) == ["23:30", "00:00", "00:30", "01:00", "01:30", "02:00"]
    # By order alone: nothing before or after, and no steady step.
    alone = resolve_times(_local("01:00", "01:50", "01:10"), ZONE, None)
    assert _utc(alone) == ["00:00", "00:50", "01:10"]
    hourly = resolve_times(_local("00:10", "01:10", "01:10", "02:10"), ZONE, None)
    assert _utc(hourly) == ["23:10", "00:10", "01:10", "02:10"]


def test_a_file_whose_newest_line_comes_first_is_read_from_its_end() -> None:
    """The same times upside down give the same moments upside down."""
    times = _local("00:30", "01:00", "01:30", "01:00", "01:30", "02:00")
    forward = resolve_times(times, ZONE, None)
    assert resolve_times(times[::-1], ZONE, None) == forward[::-1]


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        # It goes on from 00:50 without a gap, and ends amid the hour.
        (("00:40", "00:50", "01:00", "01:10"), ["23:40", "23:50", "00:00", "00:10"]),
        # It begins amid the hour and goes on to 02:00 without a gap.
        (("01:40", "01:50", "02:00", "02:10"), ["01:40", "01:50", "02:00", "02:10"]),
        # Every 90 minutes: a step of 30 by the clock is one of 90 where the hour comes again.
        (("00:15", "01:45", "02:15", "03:45"), ["23:15", "00:45", "02:15", "03:45"]),
        # A logger that stopped amid the first pass and began again after the second.
        (
            ("00:40", "00:50", "01:00", "02:30", "02:40"),
            ["23:40", "23:50", "00:00", "02:30", "02:40"],
        ),
    ],
)
def test_a_single_pass_is_the_one_that_leaves_fewer_gaps(
    texts: tuple[str, ...], expected: list[str]
) -> None:
    """What comes before and after shows which pass it was."""
    assert _utc(resolve_times(_local(*texts), ZONE, None)) == expected


def test_where_nothing_shows_the_pass_only_a_statement_helps() -> None:
    """The hour once, without a gap on either side of it: refused with the reason, unless stated."""
    times = _local("00:30", "00:45", "01:00", "01:15", "01:30", "01:45", "02:00", "02:15")
    found = resolve_times(times, ZONE, None)
    assert [isinstance(one, str) for one in found] == [False] * 2 + [True] * 4 + [False] * 2
    assert "came twice" in str(found[2])
    first = resolve_times(times, ZONE, "first")
    second = resolve_times(times, ZONE, "second")
    assert _utc(first)[2:6] == ["00:00", "00:15", "00:30", "00:45"]
    assert _utc(second)[2:6] == ["01:00", "01:15", "01:30", "01:45"]


def test_a_repeated_hour_out_of_order_is_refused() -> None:
    """Three runs through an hour that came twice: nobody can say what that means."""
    found = resolve_times(_local("01:00", "01:30", "01:10", "01:00", "02:00"), ZONE, None)
    assert all("not in order" in str(one) for one in found[:4])
    assert _utc(found)[4] == "02:00"


def test_a_time_that_never_was_is_refused() -> None:
    """Between 01:00 and 02:00 on the day clocks go forward there is nothing."""
    found = resolve_times(_local("00:30", "01:30", "02:30", day="2025-03-30"), ZONE, None)
    assert _utc([found[0], found[2]]) == ["00:30", "01:30"]
    assert "clocks were put forward" in str(found[1])


def test_offsets_of_its_own_go_before_the_zone() -> None:
    """A time that says its offset keeps it; without zone and offset it is refused."""
    own = datetime.fromisoformat("2025-10-26T01:30+02:00")
    [kept, refused] = resolve_times([own, *_local("09:00")], None, None)
    assert kept == own
    assert "no time zone is stated" in str(refused)


@given(
    st.integers(0, 36 * 60),
    st.integers(1, 110),
    st.integers(3, 200),
    st.booleans(),
)
def test_any_steady_logger_is_read_as_it_was(
    start: int, step: int, count: int, upside_down: bool
) -> None:
    """Moments a fixed step apart, written as local time, come back as the moments they were:
    wherever the file begins and ends, in either direction. None is wrong; and with steps below an
    hour none is refused, unless the whole file lies in the hour that comes twice.
    """
    first = datetime(2025, 10, 25, tzinfo=UTC) + timedelta(minutes=start)
    moments = [first + timedelta(minutes=step * number) for number in range(count)]
    if upside_down:
        moments.reverse()
    written = [moment.astimezone(ZONE).replace(tzinfo=None, fold=0) for moment in moments]
    found = resolve_times(written, ZONE, None)
    wrong = [
        (one, moment)
        for one, moment in zip(found, moments, strict=True)
        if not isinstance(one, str) and one != moment
    ]
    assert wrong == []
    inside = [datetime(2025, 10, 26, tzinfo=UTC) <= one < _LATER for one in moments]
    refused = any(isinstance(one, str) for one in found)
    assert not refused or all(inside) or step > 55


_LATER = datetime(2025, 10, 26, 2, tzinfo=UTC)
