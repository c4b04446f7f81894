"""Curves, bands and marks of characters: each cell shows its own time."""

from datetime import UTC, datetime, timedelta

import pytest

from rindline.cli._curves import (
    LABEL,
    Axis,
    Drawing,
    Limit,
    averaged,
    band,
    curve,
    letters,
    marks,
)
from rindline_schema.answers import HourOfAir

BEGIN = datetime(2026, 2, 3, tzinfo=UTC)
HOUR = timedelta(hours=1)
PLAIN = Drawing.of(blocks=False)
BLOCKS = Drawing.of(blocks=True)


def _axis(hours: int, cells: int) -> Axis:
    return Axis(BEGIN, BEGIN + hours * HOUR, cells)


def _hour(number: float, mean_c: float | None, hours: float = 1.0) -> HourOfAir:
    return HourOfAir(at=BEGIN + number * HOUR, hours=hours, mean_c=mean_c)


def _cells(row: str) -> str:
    return row[LABEL:]


def test_a_cell_is_the_mean_of_its_hours_by_their_share() -> None:
    """Two hours a cell; one that lies in two cells counts half in each; none is none."""
    series = [_hour(0, 10.0), _hour(1, 20.0), _hour(3.5, 12.0), _hour(5, None)]
    means = averaged(_axis(8, 4), series, lambda hour: hour.mean_c)
    assert means.values == pytest.approx([15.0, 12.0, 12.0, None])
    assert means.seen == pytest.approx([1.0, 0.25, 0.25, 0.0])


def test_a_curve_rises_by_eighths_from_its_least_to_its_most() -> None:
    """Four rows of eight steps: 32 values rise by one step each; the scale stands at the left."""
    rows = curve(_axis(32, 32), [float(number) for number in range(32)], [], BLOCKS)
    assert [row[: LABEL - 2].strip() for row in rows] == ["31.0", "", "", "0.0"]
    for level, row in enumerate(reversed(rows)):
        own = _cells(row)[8 * level : 8 * level + 8]
        assert len(set(own)) >= 7
        assert list(own) == sorted(own)
        assert not _cells(row)[: 8 * level].strip()
        assert not _cells(row)[8 * level + 8 :].strip()


def test_a_still_room_is_drawn_flat() -> None:
    """A tenth of a degree is not blown up to the whole height."""
    rows = curve(_axis(4, 4), [11.0, 11.1, 11.0, 11.1], [], BLOCKS)
    assert len([row for row in rows if _cells(row).strip()]) == 1
    assert curve(_axis(4, 4), [None] * 4, [], BLOCKS) == []


def test_a_limit_is_a_broken_line_for_its_own_time() -> None:
    """It is inside the scale though no value comes near it, and ends where it ends."""
    limits = [Limit(20.0, BEGIN, BEGIN + 2 * HOUR)]
    rows = curve(_axis(4, 4), [10.0, 10.5, 11.0, None], limits, PLAIN)
    assert _cells(rows[0]) == "--  "
    assert rows[0].startswith("  20.0 |")
    assert _cells(rows[3]) == "__o "


def test_marks_show_what_was_outside_and_unseen() -> None:
    """A spell of a minute takes its cell; two kinds in one cell are an exclamation mark."""
    spans = [
        ("^", BEGIN + 1 * HOUR, BEGIN + 1 * HOUR),
        ("^", BEGIN + 3 * HOUR, BEGIN + 5 * HOUR),
        ("v", BEGIN + 4 * HOUR, BEGIN + 4.5 * HOUR),
    ]
    row = marks("outside", _axis(6, 6), spans, [1, 1, 0.4, 0.5, 1, 0])
    assert row == "outside  ^.^!."


def test_a_band_has_its_name_where_it_fits_and_its_letter_where_not() -> None:
    """A stay too short for a cell still gets one, and none gives up its only one."""
    stays = [
        ("a", "HOOPING", BEGIN, BEGIN + 3 * HOUR),
        ("b", "CAVE-1", BEGIN + 3 * HOUR, BEGIN + 19.9 * HOUR),
        ("c", "CUTTING", BEGIN + 19.9 * HOUR, BEGIN + 20 * HOUR),
    ]
    row = _cells(band("rooms", _axis(20, 20), stays, PLAIN))
    assert row == "|a-|CAVE-1=========c"
    assert _cells(band("rooms", _axis(20, 2), stays, PLAIN)) in ("ab", "bc", "bb")


def test_letters_of_one_cell_stand_above_one_another() -> None:
    """The rarer first; a letter once a cell; times at the ends fall into the end cells."""
    signs = [("t", BEGIN), ("t", BEGIN), ("P", BEGIN), ("t", BEGIN + 4 * HOUR)]
    rows = letters("done", _axis(4, 4), signs, "Pt")
    assert rows == ["done    P  t", "        t   "]
    assert letters("done", _axis(4, 4), [], "Pt") == []


@pytest.mark.parametrize(("width", "cells"), [(10, 20), (60, 52), (80, 72), (240, 92)])
def test_an_axis_fits_the_screen(width: int, cells: int) -> None:
    """As wide as the screen, but for one that is too wide to follow or too narrow to be one."""
    axis = Axis.of(BEGIN, BEGIN + HOUR, width)
    assert axis.cells == cells
    assert len(axis.ends()) == LABEL + cells
    assert Axis.of(BEGIN, BEGIN, width).step > timedelta()


def test_the_ends_of_an_axis_are_days_or_times_of_day() -> None:
    """Of a season two days, of two days also the hour; what has no room is left out."""
    season = Axis.of(BEGIN, BEGIN + timedelta(days=84), 60).ends().split()
    assert season == [BEGIN.astimezone().date().isoformat(), "2026-04-28"]
    hours = Axis.of(BEGIN, BEGIN + timedelta(days=2), 60).ends().split()
    assert hours[1::2] == [BEGIN.astimezone().strftime("%H:%M")] * 2
    assert len(Axis.of(BEGIN, BEGIN + timedelta(days=2), 20).ends().split()) == 2
