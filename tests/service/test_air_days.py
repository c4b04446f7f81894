"""Whole days rolled up: they say what their hours say, and never what has been overtaken."""

import math

import pytest

from rindline_server.calc.air import Tally, spells_of, unseen_of
from rindline_server.ledger.times import to_us
from rindline_server.service.air.hours import AirPiece, air_of, days_over, hours_over
from rindline_server.store import Store
from tests.service.cellar import RULE, Cellar, after, course

_DAY = 24 * 60
_MINUTES = [m for m in range(3, 5 * _DAY, 5) if not 1.2 * _DAY < m < 1.5 * _DAY]


@pytest.fixture
def cellar(store: Store) -> Cellar:
    """Five days of readings with a gap of seven hours, and limits that are now and then passed."""
    cellar = Cellar(store)
    cellar.room(least_c=8, most_c=12, least_humidity_pct=85, most_humidity_pct=93)
    cellar.sensor()
    cellar.read(
        course(
            _MINUTES,
            lambda minute: round(10 + 3 * math.sin(minute / 300), 3),
            lambda minute: round(88 + 6 * math.cos(minute / 170), 3),
        )
    )
    cellar.roll(-_DAY, 6 * _DAY)
    return cellar


def _pieces(cellar: Cellar, window: tuple[int, int]) -> tuple[list[AirPiece], list[AirPiece]]:
    begin_us, end_us = (to_us(after(minutes)) for minutes in window)
    with cellar.store.reading() as snap:
        return (
            days_over(snap, "CAVE", begin_us, end_us, RULE),
            hours_over(snap, "CAVE", begin_us, end_us, RULE),
        )


def _wholes(cellar: Cellar, window: tuple[int, int]) -> tuple[Tally, Tally]:
    begin_us, end_us = (to_us(after(minutes)) for minutes in window)
    days, hours = (air_of(pieces, begin_us, end_us) for pieces in _pieces(cellar, window))
    return days, hours


@pytest.mark.parametrize(
    "window",
    [(0, 5 * _DAY), (617, 4 * _DAY + 41), (-_DAY, 6 * _DAY), (5, 47), (_DAY - 1, 2 * _DAY + 1)],
    ids=["whole", "odd", "beyond", "within_an_hour", "about_a_day"],
)
def test_days_add_up_to_what_hours_add_up_to(cellar: Cellar, window: tuple[int, int]) -> None:
    """Every sum to 1e-9, and the very same extremes, percentiles, spells and unobserved times."""
    days, hours = _wholes(cellar, window)
    assert hours.c_us > 0
    for name, ours, theirs in zip(Tally._fields, days, hours, strict=True):
        if isinstance(theirs, float):
            assert ours == pytest.approx(theirs, rel=1e-9), name
        elif name not in ("spells", "unseen"):
            assert ours == theirs, name
    assert spells_of(days) == spells_of(hours)
    assert unseen_of(days) == unseen_of(hours)


def test_a_season_is_read_in_few_pieces(cellar: Cellar) -> None:
    """Four whole days are four pieces; the hours before and after are pieces of their own."""
    days, hours = _pieces(cellar, (_DAY - 90, 4 * _DAY + 60))
    assert len(days) == 2 + 3 + 1
    assert len(hours) > 60


def test_a_day_with_a_due_hour_is_not_taken_for_what_it_was(cellar: Cellar) -> None:
    """A reading told late changes the figures at once, before its day is rolled up again."""
    window = (0, 5 * _DAY)
    before, _ = _wholes(cellar, window)
    cellar.read([(2 * _DAY + 61, 30.0, None)])
    cellar.mark_due(2 * _DAY, 2 * _DAY + 120)
    after_telling, hours = _wholes(cellar, window)
    assert before.most_c != 30.0
    assert after_telling.most_c == 30.0
    assert after_telling.area_c_h == pytest.approx(hours.area_c_h, rel=1e-9)
    cellar.roll(2 * _DAY, 2 * _DAY + 120)
    rolled, _ = _wholes(cellar, window)
    assert rolled.most_c == 30.0
    assert rolled.area_c_h == pytest.approx(hours.area_c_h, rel=1e-9)
