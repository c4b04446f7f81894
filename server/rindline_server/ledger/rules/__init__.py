"""One rule for each kind of event: what it may name, and what it leaves in the books."""

from collections.abc import Callable, Sequence
from typing import Any

from rindline_schema import events as ev
from rindline_schema.events import Fact
from rindline_server.ledger.entries import Effects
from rindline_server.ledger.lookups import Lookup
from rindline_server.ledger.rules import cutting, labels, milk, safety, shipping, wheels

__all__ = ["check_names", "linked_effects", "links_of", "own_effects"]

_EFFECTS: dict[type, Callable[[Any], Effects]] = {
    ev.Receive: milk.receive_effects,
    ev.Make: milk.make_effects,
    ev.Hoop: wheels.hoop_effects,
    ev.Move: wheels.move_effects,
    ev.Tend: wheels.tend_effects,
    ev.Iron: wheels.iron_effects,
    ev.Weigh: wheels.weigh_effects,
    ev.Cut: cutting.cut_effects,
    ev.Blend: cutting.blend_effects,
    ev.Pack: shipping.pack_effects,
    ev.Unpack: shipping.unpack_effects,
    ev.Dispatch: shipping.dispatch_effects,
    ev.Arrive: shipping.arrive_effects,
    ev.Sample: safety.sample_effects,
    ev.Hold: safety.hold_effects,
    ev.Release: safety.release_effects,
    ev.Discard: safety.discard_effects,
    ev.Label: labels.label_effects,
}

_CHECKS: dict[type, Callable[[Any, Lookup], None]] = {
    ev.Receive: milk.check_receive,
    ev.Make: milk.check_make,
    ev.Hoop: wheels.check_hoop,
    ev.Move: wheels.check_move,
    ev.Tend: wheels.check_tend,
    ev.Iron: wheels.check_iron,
    ev.Cut: cutting.check_cut,
    ev.Blend: cutting.check_blend,
    ev.Dispatch: shipping.check_dispatch,
    ev.Arrive: shipping.check_arrive,
    ev.Sample: safety.check_sample,
    ev.Clean: safety.check_clean,
}


def check_names(event: Fact, lookup: Lookup) -> None:
    """Refuse an event that names what no register knows, or what does not fit."""
    check = _CHECKS.get(type(event))
    if check is not None:
        check(event, lookup)


def own_effects(event: Fact) -> Effects:
    """Give what an event leaves in the books by itself."""
    effects = _EFFECTS.get(type(event))
    return effects(event) if effects is not None else Effects()


def links_of(event: Fact) -> tuple[str, ...]:
    """Give the keys through which events act on one another: a case, a sample's reference."""
    if isinstance(event, ev.Pack | ev.Unpack):
        return (f"case:{event.case}",)
    if isinstance(event, ev.Dispatch | ev.Arrive):
        return tuple(f"case:{case}" for case in shipping.cases_of(event.lines))
    if isinstance(event, ev.Sample):
        return (f"sample:{event.reference}",)
    if isinstance(event, ev.Result):
        return (f"sample:{event.sample}",)
    return ()


def linked_effects(event: Fact, key: str, facts: Sequence[Fact]) -> Effects:
    """Give what an event leaves in the books through one key, seen with all facts under it."""
    what, _, name = key.partition(":")
    if what == "case":
        return shipping.case_effects(event, name, facts)
    return safety.result_effects(event, name, facts)
