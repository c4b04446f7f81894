"""Judging an event: what the change it would make says against it."""

from rindline_schema.answers import Warned
from rindline_schema.events import Correct, Event, Fact, Hoop, Release
from rindline_server.ledger.discrepancies import describe, growth
from rindline_server.ledger.entries import CLAIMS, TIMELESS, Entry
from rindline_server.ledger.holds import holds_at
from rindline_server.ledger.refusal import RefusalError, refuse
from rindline_server.ledger.states import Found
from rindline_server.ledger.times import from_us, to_us
from rindline_server.ledger.transition import Transition
from rindline_server.ledger.world import World

__all__ = ["Verdicts", "judge_correction", "judge_fact", "judge_held", "judge_release"]

Verdicts = list[Warned]
"""What a person should look at, though the event is recorded."""


def judge_held(world: World, event: Fact, change: Transition) -> Verdicts:
    """Refuse to use or send what is held, unless the event states an override.

    Curd goes into its forms whatever is found out about its milk: hooping is never held up.
    """
    if isinstance(event, Hoop):
        return []
    own = str(event.id)
    used = {
        (entry.lot, entry.at_us): None
        for entry in change.new_entries
        if entry.event == own and entry.kind in ("take", "dispatch")
    }
    warnings: Verdicts = []
    for lot, at_us in used:
        holds = holds_at(world, lot, at_us)
        if not holds:
            continue
        detail = "; ".join(f"{lot} is on hold ({span.reason}), put on {on}" for on, span in holds)
        if event.override is None:
            event_ids = list(dict.fromkeys(span.event for _, span in holds))
            raise refuse("lot_held", detail, lot=lot, event_ids=event_ids)
        warnings.append(Warned(code="done_despite_hold", detail=detail, lot=lot))
    return warnings


def judge_release(world: World, event: Release) -> None:
    """Refuse to release what isn't held; a hold named by its id may still be untold."""
    named = str(event.hold) if event.hold is not None else None
    if named is not None and named not in world.recorded:
        return
    for lot in event.lots:
        holds = holds_at(world, lot, to_us(event.at))
        if not any(named in (None, span.event) for _, span in holds):
            by = f" by {named}" if named else ""
            raise refuse("not_held", f"{lot} is not on hold at that time{by}", lot=lot)


def judge_fact(event: Event, change: Transition) -> Verdicts:
    """Refuse an event whose own claim contradicts the record; give warnings for the rest."""
    own = str(event.id)
    warnings: Verdicts = []
    for lot in change.lots:
        before, after = change.before[lot], change.books[lot].record
        come = change.new_of(lot)
        if before.is_born and any(entry.kind == "born" for entry in come):
            raise refuse("lot_exists", f"{lot} was already made", lot=lot)
        grown = growth(before, after)
        # What others took is held against an event only if it takes of the lot itself. A packing
        # told late, say, only tells what a case held that has left since.
        takes = any(e.event == own and e.kind in CLAIMS and e.kind != "pack" for e in come)
        for found in grown:
            if found.sure and (takes or found.event == own):
                raise _contradiction(lot, found, come, change)
        warnings += [Warned(code=f.kind, detail=describe(lot, f), lot=lot) for f in grown]
        if not after.is_born:
            warnings.append(_pending(lot))
    return warnings


def _pending(lot: str) -> Warned:
    return Warned(code="pending", detail=f"{lot} is not yet recorded itself", lot=lot)


def _contradiction(lot: str, found: Found, come: list[Entry], change: Transition) -> RefusalError:
    if found.kind == "before_it_existed":
        born_us = change.books[lot].record.born_us or 0
        return refuse(
            found.kind, f"{lot} was made {from_us(born_us).isoformat()}, later than this", lot=lot
        )
    if found.kind == "places_overlap":
        return refuse(found.kind, describe(lot, found), lot=lot)
    if found.kind == "not_here":
        return refuse(found.kind, f"{lot} is no longer at this site", lot=lot)
    if found.grams == 0:
        return refuse("not_enough", f"{lot} has not so many pieces left", lot=lot)
    # What is packed is not gone: it counts only if nothing else is asked.
    claims = [e for e in come if e.kind in CLAIMS and e.event == found.event] or come
    taken = [e for e in claims if e.kind != "pack"] or claims
    claimed_g = sum(entry.mass_g or 0 for entry in taken if entry.kind in CLAIMS)
    left_g = max(claimed_g - found.grams, 0)
    return refuse(
        "not_enough",
        f"{claimed_g} g are asked of {lot}, which has {left_g} g left",
        lot=lot,
        left_g=left_g,
    )


def judge_correction(event: Correct, change: Transition) -> Verdicts:
    """Refuse a correction after which other events would hang in the air or not add up."""
    own = {str(event.id), str(event.event)}
    if event.replacement is not None:
        own.add(str(event.replacement.id))
    in_the_way: list[str] = []
    warnings: Verdicts = []
    about: str | None = None
    for lot in change.lots:
        before, book = change.before[lot], change.books[lot]
        come = change.new_of(lot)
        if before.is_born and any(e.kind == "born" for e in come) and not _unmade(change, lot):
            raise refuse("lot_exists", f"{lot} was already made by another event", lot=lot)
        if before.is_born and not book.record.is_born:
            in_the_way += [e.event for e in book.entries if e.kind not in TIMELESS]
        for found in growth(before, book.record):
            if not found.sure:
                warnings.append(Warned(code=found.kind, detail=describe(lot, found), lot=lot))
            elif found.event in own:
                raise _contradiction(lot, found, come, change)
            else:
                in_the_way.append(found.event)
        about = about or (lot if in_the_way else None)
    in_the_way = [event_id for event_id in dict.fromkeys(in_the_way) if event_id not in own]
    if in_the_way:
        raise refuse(
            "correction_in_the_way",
            f"{len(in_the_way)} later events rest on {event.event}",
            lot=about,
            event_ids=in_the_way[:100],
        )
    return warnings


def _unmade(change: Transition, lot: str) -> bool:
    return any(entry.lot == lot and entry.kind == "born" for entry in change.gone_entries)
