"""Applying an event to the record: the one door through which anything changes.

``apply`` judges an event against what is known and either changes the world and gives
:class:`Recorded`, or raises :class:`RefusalError` and leaves the world as it was. The same
function serves the API, a dry run, the rebuild and the simulation tests.
"""

from msgspec import Struct

from rindline_schema.answers import GivenCode, Warned
from rindline_schema.codes import split_lot_code
from rindline_schema.events import Blend, Correct, Declare, Event, Fact, Release
from rindline_server.calc.air import AirRule
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger import office
from rindline_server.ledger.completing import LARGEST_GIVEN_SERIAL, complete, with_site
from rindline_server.ledger.judging import (
    Verdicts,
    judge_correction,
    judge_fact,
    judge_held,
    judge_release,
)
from rindline_server.ledger.lookups import Lookup
from rindline_server.ledger.refusal import RefusalError, refuse
from rindline_server.ledger.rules import check_names, own_effects
from rindline_server.ledger.rules.cutting import check_blend_mass
from rindline_server.ledger.times import to_us
from rindline_server.ledger.transition import Transition, transition
from rindline_server.ledger.world import Book, World

__all__ = ["AHEAD_US", "Context", "Recorded", "RefusalError", "apply", "replay"]

AHEAD_US = 5 * 60 * 1_000_000
"""How far ahead of the server's clock a station's may be."""


class Context(Struct, frozen=True):
    """The server's clock (microseconds since 1970) and settings, as the rules need them.

    ``air`` says how far around a change of the registers the figures of the air change with it.
    """

    now_us: int
    tolerance: ScaleTolerance = ScaleTolerance()
    air: AirRule = AirRule()


class Recorded(Struct, frozen=True):
    """The event as it goes into the ledger, the codes given, and what to look at."""

    event: Event
    given: tuple[GivenCode, ...] = ()
    warnings: tuple[Warned, ...] = ()


def apply(world: World, event: Event, context: Context) -> Recorded:
    """Judge an event (its site filled in) and record it, or raise RefusalError.

    The caller has already dealt with ids told before.
    """
    if event.site is None:
        raise refuse("not_valid", "the event names no site, and the key belongs to none")
    fact = event.replacement if isinstance(event, Correct) else event
    for part in (event, fact):
        if part is not None and to_us(part.at) > context.now_us + AHEAD_US:
            raise refuse("ahead_of_clock", f"{part.at.isoformat()} has not come yet here")
    lookup = Lookup(world.registers, to_us(event.at))
    if not isinstance(fact, Declare):
        lookup.site(event.site)
    event, given, serials = complete(
        with_site(event, event.site), world.taken_serials(), world.registers
    )
    for code in given:
        # Never given or seen before, so there was nothing to load.
        world.books.setdefault(code.lot, Book())
    fact = event.replacement if isinstance(event, Correct) else event
    if fact is not None:
        voided = str(event.event) if isinstance(event, Correct) else None
        _check_fact(world, fact, voided, context)
    if isinstance(event, Correct):
        office.check_withdrawal(world, event)
    change = _transition(world, event, context.tolerance)
    verdicts = _judge(world, event, change)
    _commit(world, event, change, serials)
    return Recorded(event, tuple(given), tuple(verdicts))


def replay(world: World, event: Event, context: Context) -> None:
    """Record an event of the ledger again, as it stands there, without judging it."""
    change = _transition(world, event, context.tolerance)
    _commit(world, event, change, {})


def _check_fact(world: World, fact: Fact, voided: str | None, context: Context) -> None:
    lookup = Lookup(world.registers, to_us(fact.at))
    if fact.site is not None and not isinstance(fact, Declare):
        lookup.site(fact.site)
    check_names(fact, lookup)
    if isinstance(fact, Blend):
        check_blend_mass(fact, context.tolerance)
    office.check(world, fact, voided)


def _parts(world: World, event: Event) -> tuple[tuple[Fact, ...], tuple[Fact, ...]]:
    """Give the facts an event takes out of force, and those it brings into force."""
    if not isinstance(event, Correct):
        return (), (() if str(event.id) in world.voids else (event,))
    target = world.recorded.get(str(event.event))
    already = str(event.event) in world.voids
    removed = (target,) if target is not None and not already else ()
    new = event.replacement
    added = (new,) if new is not None and str(new.id) not in world.voids else ()
    return tuple(fact for fact in removed if not isinstance(fact, Correct)), added


def _transition(world: World, event: Event, tolerance: ScaleTolerance) -> Transition:
    removed, added = _parts(world, event)
    return transition(world, removed, added, tolerance)


def _judge(world: World, event: Event, change: Transition) -> Verdicts:
    if isinstance(event, Correct):
        target = world.recorded.get(str(event.event))
        if isinstance(target, Correct):
            raise refuse(
                "wrong_kind",
                "a correction is not corrected itself: correct its replacement, or tell anew",
            )
        correction = world.voids.get(str(event.event))
        if correction is not None:
            raise refuse(
                "already_corrected", f"{event.event} was corrected before", event_ids=[correction]
            )
        if str(event.id) in world.voids:
            raise refuse(
                "already_corrected",
                "another correction said that this one is wrong, before it arrived",
                event_ids=[world.voids[str(event.id)]],
            )
        held = [warned for fact in change.added for warned in judge_held(world, fact, change)]
        return held + judge_correction(event, change)
    if not change.added:
        # Corrected before it was told: it changes nothing, so nothing speaks against it.
        return []
    if isinstance(event, Release):
        judge_release(world, event)
    held = judge_held(world, event, change)
    return held + judge_fact(event, change)


def _commit(world: World, event: Event, change: Transition, serials: dict[str, int]) -> None:
    """Put everything in its place. Nothing in here may refuse."""
    world.recorded[str(event.id)] = event
    if isinstance(event, Correct):
        world.voids.setdefault(str(event.event), str(event.id))
        world.new_voids.append((str(event.event), str(event.id)))
        if event.replacement is not None:
            world.recorded[str(event.replacement.id)] = event.replacement
    change.commit(world)
    for fact in change.removed:
        office.withdraw(world, fact)
    for fact in change.added:
        office.record(world, fact)
    _count_serials(world, event, change, serials)
    world.end_step(str(event.id))


def _count_serials(world: World, event: Event, change: Transition, given: dict[str, int]) -> None:
    """Keep the last serial seen under each prefix, so that no code is ever given twice.

    Codes in an event that was corrected before it was told count as well: they are on labels.
    """
    seen = dict(given)
    lots = set(change.lots)
    fact = event.replacement if isinstance(event, Correct) else event
    if fact is not None and not change.added:
        lots.update(entry.lot for entry in own_effects(fact).entries)
    for lot in lots:
        prefix, serial = split_lot_code(lot)
        if serial <= LARGEST_GIVEN_SERIAL:
            seen[prefix] = max(seen.get(prefix, 0), serial)
    for prefix, serial in seen.items():
        if serial > world.serials.get(prefix, 0):
            world.serials[prefix] = serial
            world.new_serials[prefix] = serial
