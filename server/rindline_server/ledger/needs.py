"""What must be loaded before events can be judged."""

from collections.abc import Iterable

from rindline_schema.events import (
    Correct,
    Declare,
    Event,
    Fact,
    Hold,
    Receive,
    Release,
    Result,
    Settle,
)
from rindline_server.ledger.completing import prefixes_of
from rindline_server.ledger.entries import PASSIVE
from rindline_server.ledger.rules import links_of, own_effects
from rindline_server.ledger.world import Needs

__all__ = ["may_spread_hold", "needs_of", "needs_of_linked", "register_name"]

_HELD_BY_HOLD = ("take", "dispatch", "release")


def _needs_of_fact(fact: Fact) -> Needs:
    entries = own_effects(fact).entries
    # Lots without a code yet (the empty name) are new: there is nothing to load of them.
    whole = {entry.lot for entry in entries if entry.kind not in PASSIVE and entry.lot}
    every = {entry.lot for entry in entries if entry.lot}
    in_use: frozenset[tuple[str, str]] = frozenset()
    if isinstance(fact, Declare):
        in_use = frozenset({(register_name(fact), fact.entry.code)})
    ids = {fact.id}
    if isinstance(fact, Release) and fact.hold is not None:
        ids.add(fact.hold)
    return Needs(
        whole_lots=frozenset(whole),
        born_lots=frozenset(every - whole),
        ancestors_of=frozenset(e.lot for e in entries if e.kind in _HELD_BY_HOLD and e.lot),
        events=frozenset(ids),
        links=frozenset(links_of(fact)),
        prefixes=prefixes_of(fact),
        discrepancies=frozenset({fact.discrepancy} if isinstance(fact, Settle) else ()),
        entries_in_use=in_use,
    )


def register_name(declare: Declare) -> str:
    """Give the register a declaration belongs to."""
    return str(declare.entry.__struct_config__.tag)


def needs_of(event: Event) -> Needs:
    """Give what one event needs (its site filled in).

    For a correction this names the event it voids; when that has been loaded, its own needs must
    be loaded as well. And if a correction is among the events, books are loaded whole where
    birth and holds would do otherwise: it takes out of a book what changes no figure, too.
    """
    if not isinstance(event, Correct):
        return _needs_of_fact(event)
    needs = Needs(events=frozenset({event.id, event.event}))
    if event.replacement is not None:
        needs |= _needs_of_fact(event.replacement)
    return needs


def needs_of_linked(facts: Iterable[Fact]) -> Needs:
    """Give the lots reached through facts under a link: those packed, those sampled."""
    lots: set[str] = set()
    for fact in facts:
        lots.update(entry.lot for entry in own_effects(fact).entries)
    return Needs(whole_lots=frozenset(lots), ancestors_of=frozenset(lots))


def may_spread_hold(fact: Fact) -> bool:
    """Tell whether a fact puts a hold on a lot that spreads to all that is made of it."""
    if isinstance(fact, Hold):
        return fact.spreads
    if isinstance(fact, Result):
        return fact.verdict == "failed" and fact.spreads
    return (
        isinstance(fact, Receive) and fact.tests is not None and fact.tests.inhibitors == "positive"
    )
