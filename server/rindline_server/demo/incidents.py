"""What goes otherwise than planned: a wrong sheet, a doubtful result, a station that is offline."""

from msgspec.structs import replace

from rindline_schema.events import Correct, Event, Hold, Input, Make, Release, Result, Sample
from rindline_server.demo.dates import at, day_of
from rindline_server.demo.journal import Journal
from rindline_server.demo.milk import Ingredients
from rindline_server.demo.registers import DAIRY, STORE
from rindline_server.demo.things import Made

__all__ = ["CORRECTED_MAKE", "HELD_MAKE", "tell_correction", "tell_hold", "told_on"]

CORRECTED_MAKE, HELD_MAKE = 6, 5
"""Which make's sheet named the wrong salt, and which one was held."""

# The store's station has no network from the first day to the day before the second.
_OFFLINE_FROM, _ONLINE_AGAIN = 60, 75

_HELD_ON, _RELEASED_ON = 66, 71


def told_on(event: Event) -> int:
    """Give the day an event is told: the day it happened, but for the station without network."""
    day = day_of(event.at)
    if event.site == STORE and _OFFLINE_FROM <= day < _ONLINE_AGAIN:
        return _ONLINE_AGAIN
    return day


def tell_correction(journal: Journal, make: Made, ingredients: Ingredients) -> None:
    """The sheet of a make named the salt that was used up: told as written, then corrected."""
    index, right = next(
        (i, event)
        for i, event in enumerate(journal.events)
        if isinstance(event, Make) and event.lot == make.lot
    )
    opened = ingredients.open_on("SALT", make.day)
    used_up = ingredients.open_on("SALT", make.day, before=1)

    def as_written(item: Input) -> Input:
        return replace(item, lot=used_up) if item.lot == opened else item

    journal.events[index] = replace(right, inputs=[as_written(item) for item in right.inputs])
    moment = at(make.day + 1, 16, 10)
    journal.add(
        Correct(
            id=journal.new_id(moment),
            at=moment,
            site=DAIRY,
            event=right.id,
            reason="The sheet named the salt that was used up the week before.",
            replacement=replace(right, id=journal.new_id(moment)),
        )
    )


def tell_hold(journal: Journal, make: Made) -> None:
    """The laboratory doubts a result: the make is held, sampled again, and released."""
    held, sampled = at(_HELD_ON, 9, 5), at(_HELD_ON, 10)
    answered, released = at(_RELEASED_ON - 1, 17), at(_RELEASED_ON, 8, 20)
    wheel = make.wheels[0]
    wheel.taken_g += 60
    reference = journal.new_number("LS")
    hold = Hold(
        id=journal.new_id(held),
        at=held,
        site=DAIRY,
        lots=[make.lot],
        reason="The laboratory asks for a second sample before it stands by its result.",
    )
    journal.add(hold)
    journal.add(
        Sample(
            id=journal.new_id(sampled),
            at=sampled,
            site=DAIRY,
            lot=wheel.lot,
            reference=reference,
            mass_g=60,
            purpose="second sample",
            laboratory="ILVERMARSH",
        )
    )
    journal.add(
        Result(
            id=journal.new_id(answered),
            at=answered,
            site=DAIRY,
            sample=reference,
            test="Listeria monocytogenes",
            verdict="passed",
            method="ISO 11290-1",
            value="not detected",
            unit="in 25 g",
        )
    )
    journal.add(
        Release(
            id=journal.new_id(released),
            at=released,
            site=DAIRY,
            lots=[make.lot],
            reason="Nothing was detected in the second sample.",
            hold=hold.id,
        )
    )
