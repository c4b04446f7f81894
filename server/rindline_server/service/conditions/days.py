"""Ages along a way, and the arithmetic of the 60 days."""

from datetime import date
from typing import NamedTuple

from rindline_schema.answers import Ages, SixtyDays
from rindline_schema.registers import MilkTreatment, Product
from rindline_server.calc.ages import DAY_US, days_between, tenths_down, tenths_up, whole_days
from rindline_server.calc.air import HOUR_US, AirRule
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.times import from_us as moment
from rindline_server.ledger.world import Registers
from rindline_server.service.conditions.air import PathAir
from rindline_server.service.conditions.handlings import HandlingTimes
from rindline_server.service.conditions.told import Told
from rindline_server.service.conditions.way import RoomTime, Way

__all__ = ["Counted", "ages", "counted", "legs_until", "milk_treatment", "sixty_days"]

_REGULATION = (
    "21 CFR 133 (edition of April 2006): 133.106 asks that blue cheese be at least 60 days old; "
    "133.182 and 133.187 ask that other soft ripened and semisoft cheeses of milk that was not "
    "pasteurized be kept at least 60 days at not below 35 °F (1.67 °C)"
)
_READ_ON = date(2026, 11, 25)
"""The day on which somebody last read these sections, in copies of that edition."""


class Counted(NamedTuple):
    """What ages count from, and what the 60 days count to: times and what was then."""

    from_us: int
    from_what: str
    until_us: int
    until_what: str


def counted(told: Told, way: Way, times: HandlingTimes) -> Counted:
    """Count from the make (from hooping if it is not told) to the sale, or the end, or now."""
    if way.make is not None and way.make.born_us is not None:
        from_us, from_what = way.make.born_us, "make"
    elif way.first.born_us is not None:
        from_us, from_what = way.first.born_us, "hooping"
    else:
        from_us, from_what = way.from_us, "first told"
    if times.sale_us is not None:
        return Counted(from_us, from_what, times.sale_us, "sale")
    if way.is_over:
        return Counted(from_us, from_what, way.until_us, "used up")
    return Counted(from_us, from_what, told.now_us, "now")


def ages(told: Told, count: Counted, times: HandlingTimes) -> Ages:
    """Give the whole days at piercing, cutting, sale and now."""

    def at(at_us: int | None) -> int | None:
        return None if at_us is None else whole_days(count.from_us, at_us)

    return Ages(
        counted_from=moment(count.from_us),
        counted_from_what=count.from_what,
        at_piercing_days=at(times.pierced_us),
        at_cutting_days=at(times.cut_us),
        at_sale_days=at(times.sale_us),
        now_days=at(told.now_us),
    )


def milk_treatment(told: Told, way: Way, registers: Registers) -> MilkTreatment | None:
    """Give how the milk was treated: as the make says, or else as the products are declared."""
    make = way.make
    body = told.bodies.get(make.born_seq or 0) if make is not None else None
    if body is not None and body.heat is not None:
        return body.heat.treatment
    for lot in (make, *(segment.lot for segment in way.segments)):
        if lot is not None and lot.product is not None:
            entry = entry_at(registers, "product", lot.product, lot.born_us or 0)
            if isinstance(entry, Product) and entry.milk_treatment is not None:
                return entry.milk_treatment
    return None


def legs_until(way: Way, until_us: int) -> list[RoomTime]:
    """Give a way's legs as far as a time."""
    return [
        leg if leg.until_us <= until_us else leg._replace(until_us=until_us, still_there=False)
        for leg in way.legs
        if leg.from_us < until_us
    ]


def sixty_days(
    way: Way,
    air: PathAir,
    count: Counted,
    treatment: MilkTreatment | None,
    rule: AirRule,
    asked_days: int,
) -> SixtyDays:
    """Count the days from make to sale, and how long it was colder or nobody measured.

    Nothing is measured between the make and hooping either. Whether they are asked for by the
    milk: thermised milk is not pasteurised (21 CFR 131.3), so it counts as raw does.
    """
    seen = air.sums(legs_until(way, count.until_us))
    span_us = max(count.until_us - count.from_us, 0)
    unobserved_us = max(span_us - seen.c_us, 0)
    days = days_between(count.from_us, count.until_us)
    wording = (
        f"{_so_many_days(count, asked_days)} "
        f"Colder than {rule.cold_c:g} °C for {tenths_up(seen.cold_us, HOUR_US)} h of them; "
        f"{tenths_up(unobserved_us, HOUR_US)} h without a reading. "
        f"{_asked_for(treatment)} Whether a colder hour counts is left open: the responsible "
        "person decides, with the local code and the competent authority."
    )
    return SixtyDays(
        regulation=_REGULATION,
        read_on=_READ_ON,
        asked_days=asked_days,
        least_c=rule.cold_c,
        counted_until=moment(count.until_us),
        counted_until_what=count.until_what,
        days=days,
        days_over=days - asked_days,
        below_hours=round(seen.cold_us / HOUR_US, 6),
        unobserved_hours=round(unobserved_us / HOUR_US, 6),
        wording=wording,
        applies=None if treatment is None else treatment != "pasteurised",
        milk_treatment=treatment,
    )


def _so_many_days(count: Counted, asked_days: int) -> str:
    """Say how many days there were; rounded so that a second too few never reads as enough."""
    span_us = count.until_us - count.from_us
    over_us = span_us - asked_days * DAY_US
    if over_us == 0:
        compared = "just as many"
    elif over_us > 0:
        compared = f"{tenths_down(over_us)} more"
    else:
        compared = f"{tenths_up(-over_us)} fewer"
    until = "its end" if count.until_what == "used up" else count.until_what
    begin = "what is first told" if count.from_what == "first told" else count.from_what
    return (
        f"{tenths_down(span_us)} days from {begin} to {until}, {asked_days} asked for: {compared}."
    )


def _asked_for(treatment: MilkTreatment | None) -> str:
    if treatment is None:
        return "How the milk was treated is not told."
    if treatment == "pasteurised":
        return (
            "The milk was pasteurised: the temperature is not asked for; "
            "the 60 days are, of what is sold as blue cheese."
        )
    if treatment == "thermised":
        return "The milk was thermised, which is not pasteurised."
    return "The milk was raw."
