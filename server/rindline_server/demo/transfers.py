"""Wheels on the road between the business's own sites."""

from collections.abc import Sequence

from rindline_schema.events import Arrive, Dispatch, Document, Line, Weigh
from rindline_server.demo.dates import at, is_workday
from rindline_server.demo.journal import Journal
from rindline_server.demo.registers import CUTTING, DAIRY, STORE
from rindline_server.demo.scale import Scale
from rindline_server.demo.things import Made, Wheel

__all__ = ["LAST_LOAD_DAY", "SHIPPING_AGE", "SHORT_G", "SHORT_MAKE", "tell_loads", "tell_transfer"]

SHIPPING_AGE = 63
"""Days from the vat until a make leaves for cutting: nine weeks (common practice)."""

LAST_LOAD_DAY = 81
"""The last Friday: what leaves on this day is still on the road when the story ends."""

SHORT_MAKE, SHORT_G = 4, 1_100
"""Of this make one wheel arrives lighter by this than it left: the discrepancy left open."""


def tell_transfer(
    journal: Journal,
    day: int,
    wheels: Sequence[Wheel],
    sites: tuple[str, str],
    room: str | None,
    *,
    weighed: bool = False,
    short: Wheel | None = None,
) -> None:
    """Tell that wheels leave one site and arrive at another the same day.

    With no ``room`` they do not arrive. If ``weighed``, each is weighed before it leaves and
    again when it arrives, where ``short`` has lost a piece.
    """
    here, there = sites
    number = journal.new_number("TR")
    document = Document(kind="transfer note", number=number)
    masses: dict[str, int | None] = {wheel.lot: None for wheel in wheels}
    if weighed:
        for i, wheel in enumerate(wheels):
            moment = at(day, 6, i)
            masses[wheel.lot] = wheel.mass_g(moment)
            journal.add(
                Weigh(
                    id=journal.new_id(moment),
                    at=moment,
                    site=here,
                    lot=wheel.lot,
                    mass_g=wheel.mass_g(moment),
                    scale=f"{here}-SCALE",
                )
            )
    leaving = at(day, 8)
    journal.add(
        Dispatch(
            id=journal.new_id(leaving),
            at=leaving,
            site=here,
            lines=[Line(lot=lot, count=1, mass_g=mass_g) for lot, mass_g in masses.items()],
            document=document,
            to_site=there,
            carrier="WENDLEMOOR",
            temperature_c=journal.dice.between(50, 80) / 10,
        )
    )
    if room is None:
        return
    coming = at(day, 13)
    if short is not None:
        short.taken_g += SHORT_G
    journal.add(
        Arrive(
            id=journal.new_id(coming),
            at=coming,
            site=there,
            lines=[
                Line(lot=w.lot, count=1, mass_g=w.mass_g(coming) if weighed else None)
                for w in wheels
            ],
            document=document,
            room=room,
            temperature_c=journal.dice.between(50, 80) / 10,
        )
    )


def tell_loads(journal: Journal, scale: Scale, made: Sequence[Made]) -> dict[int, list[Wheel]]:
    """Tell every load of ripe wheels to the cutting room; gives the wheels by day of arrival.

    Two wheels of each make stay to ripen on. Of the oldest makes one of those leaves on the last
    Friday.
    """
    arrived: dict[int, list[Wheel]] = {}
    last: dict[str, list[Wheel]] = {DAIRY: [], STORE: []}
    for make in made:
        day = make.day + SHIPPING_AGE
        if day > LAST_LOAD_DAY or not is_workday(day):
            continue
        wheels = make.wheels[: len(make.wheels) - scale.kept]
        if day == LAST_LOAD_DAY:
            last[make.site] += wheels
            continue
        short = wheels[2] if make.number == SHORT_MAKE else None
        sites = (make.site, CUTTING)
        tell_transfer(journal, day, wheels, sites, "QC-WHEELS", weighed=True, short=short)
        arrived[day] = wheels
        if make.number <= 5:
            last[make.site].append(make.wheels[-1])
    for site, wheels in last.items():
        if wheels:
            tell_transfer(journal, LAST_LOAD_DAY, wheels, (site, CUTTING), None, weighed=True)
    return arrived
