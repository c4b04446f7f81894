"""Events that should not be told: copies, wrong times, corrections at random, changed registers."""

from collections.abc import Callable
from datetime import timedelta
from random import Random
from uuid import UUID

from msgspec.structs import replace

from rindline_schema.events import Correct, Cut, Declare, Event, Hold, Release, Settle, Weigh
from rindline_schema.registers import Partner, Product, Room
from rindline_schema.uuid7 import uuid7
from tests.histories.dairy import History

__all__ = ["with_mischief"]


def _new_id(random: Random) -> UUID:
    return uuid7(random.getrandbits(40), random.randbytes(10))


def _copy(_: History, event: Event, random: Random) -> Event:
    """The same once more, under another id, and without the reason that excused it."""
    return replace(event, id=_new_id(random), override=None)


def _at_another_time(_: History, event: Event, random: Random) -> Event:
    """The same, some days before or after."""
    days = timedelta(days=random.randint(-20, 3))
    return replace(event, id=_new_id(random), at=event.at + days)


def _taken_back(_: History, event: Event, random: Random) -> Event:
    """It was not so."""
    return Correct(
        id=_new_id(random), at=event.at, site=event.site, event=event.id, reason="it was not so"
    )


def _otherwise(_: History, event: Event, random: Random) -> Event:
    """It was so, but later."""
    wrong = event.replacement if isinstance(event, Correct) else event
    if wrong is None:
        return _taken_back(_, event, random)
    late = replace(wrong, id=_new_id(random), at=wrong.at + timedelta(hours=5))
    return Correct(
        id=_new_id(random),
        at=event.at,
        site=event.site,
        event=wrong.id,
        reason="it was later",
        replacement=late,
    )


def _release_at_random(history: History, event: Event, random: Random) -> Event:
    """A hold is lifted from lots it may not be on."""
    holds = [e for e in history.events if isinstance(e, Hold)]
    cuts = [e for e in history.events if isinstance(e, Cut)]
    hold = random.choice(holds)
    return Release(
        id=_new_id(random),
        at=event.at,
        site=event.site,
        lots=[random.choice(cuts).lot, *hold.lots],
        reason="seems well",
        hold=random.choice((None, hold.id)),
    )


def _too_heavy(history: History, event: Event, random: Random) -> Event:
    """A lot weighs more than it did."""
    weighed = random.choice([e for e in history.events if isinstance(e, Weigh)])
    return replace(weighed, id=_new_id(random), at=event.at, mass_g=weighed.mass_g * 3)


def _idle_finding(_: History, event: Event, random: Random) -> Event:
    """Something is settled that was never open."""
    return Settle(
        id=_new_id(random),
        at=event.at,
        site=event.site,
        discrepancy=random.randbytes(12).hex(),
        finding="a misprint",
    )


def _changed_register(history: History, event: Event, random: Random) -> Event:
    """A product, room or partner becomes something else, or its declaration is taken back."""
    declare = random.choice(history.setup)
    if random.random() < 0.4:
        return _taken_back(history, declare, random)
    entry = declare.entry
    if isinstance(entry, Product):
        entry = replace(entry, kind="trim" if entry.kind != "trim" else "portion")
    elif isinstance(entry, Room):
        entry = replace(entry, site="QM" if entry.site != "QM" else "QS")
    elif isinstance(entry, Partner):
        entry = replace(entry, roles=["carrier"])
    return Declare(id=_new_id(random), at=event.at, site=event.site, entry=entry)


_SORTS: tuple[Callable[[History, Event, Random], Event], ...] = (
    _copy,
    _copy,
    _at_another_time,
    _at_another_time,
    _taken_back,
    _otherwise,
    _release_at_random,
    _too_heavy,
    _idle_finding,
    _changed_register,
)


def with_mischief(history: History, random: Random) -> list[Event]:
    """The history told a little out of order, every third event followed by one that should not
    be told (though some of them happen to be possible)."""
    # Not so wildly that nearly all is refused: each event is told a little late.
    order = sorted(range(len(history.events)), key=lambda i: i + random.randint(0, 60))
    events: list[Event] = [*history.setup]
    for number, i in enumerate(order):
        events.append(history.events[i])
        if number % 3 == 0:
            about = history.events[max(i - random.randint(0, 60), 0)]
            events.append(random.choice(_SORTS)(history, about, random))
    return events
