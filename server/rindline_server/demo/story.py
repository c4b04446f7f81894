"""The whole story: what every station tells, in the order in which it is told."""

from collections.abc import Iterator
from itertools import groupby
from typing import NamedTuple

from rindline_schema.events import Correct, Declare, Event, Hold, Receive, Release
from rindline_server.demo.air_incidents import tell_calibration
from rindline_server.demo.cutting import Cutting
from rindline_server.demo.dates import FIRST_DAY, LAST_DAY, at, day_of, is_workday
from rindline_server.demo.incidents import (
    CORRECTED_MAKE,
    HELD_MAKE,
    tell_correction,
    tell_hold,
    told_on,
)
from rindline_server.demo.journal import Journal
from rindline_server.demo.makes import tell_makes
from rindline_server.demo.milk import Ingredients
from rindline_server.demo.packing import blend_trim, clean_up, pack_wedges, put_away
from rindline_server.demo.registers import CUTTING, DAIRY, ENTRIES, HERDS, STORE
from rindline_server.demo.ripening import tell_ripening
from rindline_server.demo.scale import WHOLE, Scale
from rindline_server.demo.shipping import DISPATCH_DAYS, Shipped, tell_dispatches, tell_return
from rindline_server.demo.things import Made, Stock, Wheel
from rindline_server.demo.transfers import SHORT_MAKE, tell_loads

__all__ = ["OFFICE", "STATIONS", "Story", "told_by", "write_story"]

OFFICE = "office"
STATIONS = (DAIRY, STORE, CUTTING, OFFICE)
"""Who tells: a station at each site, and the office, which tells what stations may not."""

_FIRST_CUTTING_DAY = 64
_RECUT_DAYS = (72, 79)


class Story(NamedTuple):
    """The events in the order in which they are told, and what is worth asking about.

    ``milk`` is the delivery whose trace shows most: it went into two makes, which were cut, sold,
    blended, kept, sent back, held, and partly lost. ``portion`` is a wedge that a shop holds.
    ``calibration`` is the sheet of a sensor that is told when all readings are.
    """

    scale: Scale
    events: tuple[Event, ...]
    milk: str
    portion: str
    portion_shop: str
    calibration: Declare

    def batches(self) -> Iterator[tuple[str, list[Event]]]:
        """Give what each station tells at one go, a day's worth at most."""
        for (_, station), events in groupby(self.events, lambda e: (told_on(e), told_by(e))):
            yield station, list(events)


def told_by(event: Event) -> str:
    """Give the station that tells an event: that of its site, or the office."""
    if isinstance(event, Declare | Hold | Release | Correct):
        return OFFICE
    assert event.site is not None
    return event.site


def _told_in_order(events: list[Event]) -> tuple[Event, ...]:
    """Put events in order: by day of telling, by station, by time."""

    def key(event: Event) -> tuple[int, int, object, object]:
        return told_on(event), STATIONS.index(told_by(event)), event.at, event.id

    return tuple(sorted(events, key=key))


def write_story(scale: Scale = WHOLE) -> Story:
    """Write the story down; the same scale gives the same events, byte for byte."""
    journal = Journal(f"Quillmere Blue, {scale.name}")
    _declare(journal)
    ingredients = Ingredients(journal)
    made = tell_makes(journal, scale, ingredients)
    tell_correction(journal, made[CORRECTED_MAKE - 1], ingredients)
    tell_ripening(journal, scale, made)
    tell_hold(journal, made[HELD_MAKE - 1])
    sent = _cut_and_ship(journal, scale, tell_loads(journal, scale, made))
    back = tell_return(journal, sent, (SHORT_MAKE, HELD_MAKE))
    shown = made[SHORT_MAKE - 1]
    shop, portion = next(
        (item.shop, piece.lot)
        for item in sent
        for piece in item.case.pieces
        if piece.make == shown.number and item is not back
    )
    return Story(
        scale,
        _told_in_order(journal.events),
        _milk_of(journal, shown),
        portion,
        shop,
        tell_calibration(journal),
    )


def _declare(journal: Journal) -> None:
    for i, entry in enumerate(ENTRIES):
        moment = at(FIRST_DAY, 8, i)
        journal.add(Declare(id=journal.new_id(moment), at=moment, site=DAIRY, entry=entry))


def _milk_of(journal: Journal, make: Made) -> str:
    """Give the delivery of the second herd that went into a make and the one after it."""
    return next(
        event.lot or ""
        for event in journal.events
        if isinstance(event, Receive)
        and event.supplier == HERDS[1]
        and day_of(event.at) == make.day
    )


def _cut_and_ship(journal: Journal, scale: Scale, arrived: dict[int, list[Wheel]]) -> list[Shipped]:
    stock = Stock()
    cutting = Cutting(journal, scale, stock)
    sent: list[Shipped] = []
    for day in range(min(arrived), LAST_DAY + 1):
        if day in DISPATCH_DAYS:
            sent += tell_dispatches(journal, stock, day)
        if day in _RECUT_DAYS:
            cutting.recut(day, 3)
        if is_workday(day) and day >= _FIRST_CUTTING_DAY:
            new = cutting.tell_day(day)
            pack_wedges(journal, scale, stock, day)
            put_away(journal, new, day)
            clean_up(journal, day)
            if day % 7 == 4:
                blend_trim(journal, stock, day)
        stock.wheels += arrived.get(day, [])
    return sent
