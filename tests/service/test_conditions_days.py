"""The 60 days of 21 CFR 133: to the second, over a changed clock, and worded as arithmetic.

133.106: blue cheese at least 60 days old. 133.182(a), 133.187(a): soft ripened and semisoft
cheeses of milk that was not pasteurized at least 60 days at not below 35 F (1.67 C); 131.3 says
what pasteurized is. 59 days fails and 60 passes.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from rindline_schema.answers import SixtyDays
from rindline_schema.registers import MilkTreatment, Product
from rindline_server.calc.air import AirRule
from rindline_server.store import Store
from tests.service.vaults import HOOPED_H, MADE, Vaults, after, opened

_SIXTY_H = 60 * 24.0
_SECOND_H = 1 / 3600


@pytest.fixture
def vaults(store: Store) -> Iterator[Vaults]:
    with opened(store) as vaults:
        yield vaults


def _sixty(vaults: Vaults, lot: str) -> SixtyDays:
    found = vaults.path(lot).sixty_days
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("sold_h", "whole", "over", "said"),
    [
        (59 * 24, 59, -1.0, "59.0 days from make to sale, 60 asked for: 1.0 fewer."),
        (
            _SIXTY_H - 1 / 60,
            59,
            pytest.approx(-1 / 1_440),
            "59.9 days from make to sale, 60 asked for: 0.1 fewer.",
        ),
        (
            _SIXTY_H - _SECOND_H,
            59,
            pytest.approx(-1 / 86_400),
            "59.9 days from make to sale, 60 asked for: 0.1 fewer.",
        ),
        (_SIXTY_H, 60, 0.0, "60.0 days from make to sale, 60 asked for: just as many."),
        (
            _SIXTY_H + _SECOND_H,
            60,
            pytest.approx(1 / 86_400),
            "60.0 days from make to sale, 60 asked for: 0.0 more.",
        ),
        (1468.8, 61, pytest.approx(1.2), "61.2 days from make to sale, 60 asked for: 1.2 more."),
    ],
)
def test_days_are_counted_to_the_second(
    vaults: Vaults, sold_h: float, whole: int, over: float, said: str
) -> None:
    """59 days, a minute and a second short of 60, exactly 60, a second more, and 61.2 days."""
    (wheel,) = vaults.hooped()
    sold = vaults.sell(wheel, sold_h)
    found = _sixty(vaults, wheel)
    assert vaults.path(wheel).ages.at_sale_days == whole
    assert found.days_over == over
    assert (found.days >= 60) == (whole >= 60)
    assert (found.counted_until, found.counted_until_what) == (sold.at, "sale")
    assert found.wording.startswith(said)
    assert (found.asked_days, found.least_c) == (60, 1.67)


def test_a_changed_clock_changes_no_day(vaults: Vaults) -> None:
    """Made at 7:00 by winter time and sold at 7:00 on the 60th day, in summer time: an hour short
    of 60 days; sold at 8:00 they are complete."""
    zone = ZoneInfo("CET")
    made = datetime(2026, 3, 2, 7, tzinfo=zone)
    assert made.astimezone(UTC) == MADE
    one, other = vaults.hooped(2)
    for wheel, hour, days in ((one, 7, 59), (other, 8, 60)):
        sold = datetime(2026, 5, 1, hour, tzinfo=zone).astimezone(UTC)
        vaults.sell(wheel, (sold - MADE) / timedelta(hours=1))
        assert vaults.path(wheel).ages.at_sale_days == days
        assert (_sixty(vaults, wheel).days_over < 0) == (days < 60)


@pytest.mark.parametrize(
    ("milk", "applies", "said"),
    [
        ("raw", True, "The milk was raw."),
        ("thermised", True, "The milk was thermised, which is not pasteurised."),
        ("pasteurised", False, "The milk was pasteurised: the temperature is not asked for;"),
        (None, None, "How the milk was treated is not told."),
    ],
)
def test_whether_they_are_asked_for_depends_on_the_milk(
    vaults: Vaults, milk: MilkTreatment | None, applies: bool | None, said: str
) -> None:
    """Raw and thermised milk was not pasteurised; of milk nobody spoke of nothing is said. The
    figures stand in any case."""
    (wheel,) = vaults.hooped(milk=milk)
    found = _sixty(vaults, wheel)
    assert (found.applies, found.milk_treatment) == (applies, milk)
    assert said in found.wording
    assert found.days == 91
    assert found.regulation.startswith("21 CFR 133")
    assert found.read_on == date(2026, 11, 25)


def test_what_the_make_does_not_say_the_product_may(vaults: Vaults) -> None:
    """A product declared as made from raw milk: so is a wheel whose make is silent; but what a
    make says goes before."""
    (silent,) = vaults.hooped(milk=None)
    (spoken,) = vaults.hooped(milk="pasteurised")
    vaults.declare(
        Product(code="BLUE", name="Quillmere Blue", kind="wheel", milk_treatment="raw"),
        at=after(-1),
    )
    assert _sixty(vaults, silent).applies is True
    assert _sixty(vaults, spoken).applies is False


def test_while_unsold_days_run_to_now(vaults: Vaults) -> None:
    """On hand 40 days after the make: 40 days so far, 20 fewer than asked."""
    (wheel,) = vaults.hooped()
    vaults.now = after(days=40)
    found = _sixty(vaults, wheel)
    assert (found.days, found.days_over) == (40.0, -20.0)
    assert (found.counted_until, found.counted_until_what) == (vaults.now, "now")
    assert found.wording.startswith("40.0 days from make to now, 60 asked for: 20.0 fewer.")


def test_what_was_used_up_counts_to_its_end(vaults: Vaults) -> None:
    """A wheel cut up on day 50 does not grow older; its portions do."""
    (wheel,) = vaults.hooped()
    (portion,) = vaults.cut(wheel, 50 * 24, vaults.dairy.piece(8_000), finished=True)
    found = _sixty(vaults, wheel)
    assert (found.days, found.counted_until_what) == (50.0, "used up")
    assert found.wording.startswith("50.0 days from make to its end,")
    assert _sixty(vaults, portion).days == 91


def test_colder_hours_and_hours_without_a_reading_stand_apart(vaults: Vaults) -> None:
    """Five hours at one degree, ten without a reading, and the six in the vat: the days stay as
    they are, both stand beside, and what happened after the sale is left out."""
    (wheel,) = vaults.hooped()
    vaults.now = after(days=70)

    def cold(hours: float) -> float:
        return 1.0 if 100 <= hours <= 105 or hours > 1470 else 12.0

    vaults.read("CAVE", 0, 400, cold, every_minutes=10)
    vaults.read("CAVE", 410, 70 * 24, cold, every_minutes=60)
    (portion,) = vaults.cut(wheel, 1000, vaults.dairy.piece(4_000, n=8))
    vaults.sell(portion, 1464, count=4, mass_g=2_000)
    found = _sixty(vaults, portion)
    # The line from 12 to 1 degrees lies below 1.67 for the last 0.67 / 11 of ten minutes, twice.
    assert found.below_hours == pytest.approx(5 + 2 * (0.67 / 11) / 6, abs=1e-6)
    assert found.unobserved_hours == pytest.approx(10 + HOOPED_H, abs=1e-6)
    assert found.days == 61.0
    assert "Colder than 1.67 °C for 5.1 h of them; 16.0 h without a reading." in found.wording
    assert "responsible person decides" in found.wording
    later = _sixty(vaults, wheel)
    assert later.below_hours > found.below_hours + 200


def test_settings_decide_what_is_asked(store: Store) -> None:
    """A server set to 90 days and 4 degrees counts against those."""
    with opened(store, air=AirRule(cold_c=4.0), raw_milk_days=90) as vaults:
        (wheel,) = vaults.hooped()
        found = _sixty(vaults, wheel)
        assert (found.asked_days, found.least_c, found.days_over) == (90, 4.0, 1.0)
        assert "90 asked for: 1.0 more. Colder than 4 °C" in found.wording
