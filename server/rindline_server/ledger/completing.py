"""Completing an event: the site it left out, and codes for lots that have none yet."""

from collections.abc import Iterator
from typing import Any

from msgspec.structs import replace

from rindline_schema.answers import GivenCode
from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.events import Blend, Correct, Cut, Event, Fact, Hoop, Make, Receive
from rindline_schema.registers import Product
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.refusal import refuse
from rindline_server.ledger.times import to_us
from rindline_server.ledger.world import Registers

__all__ = ["LARGEST_GIVEN_SERIAL", "complete", "prefixes_of", "with_site"]

LARGEST_GIVEN_SERIAL = 999_999
"""Serials above this are never given by the server, nor counted: stations may use them."""


def with_site(event: Event, site: str | None) -> Event:
    """Fill in the station's own site where the event (or its replacement) leaves it out."""
    if event.site is None and site is not None:
        event = replace(event, site=site)
    if isinstance(event, Correct) and event.replacement is not None:
        inner = with_site(event.replacement, event.site)
        if inner is not event.replacement:
            event = replace(event, replacement=inner)
    return event


def prefixes_of(event: Event) -> frozenset[str]:
    """Give the prefixes of all codes the event might have to be given."""
    fact = event.replacement if isinstance(event, Correct) else event
    if fact is None or fact.site is None:
        return frozenset()
    kinds: tuple[str, ...] = ()
    if isinstance(fact, Receive):
        kinds = () if fact.lot else ("milk", "ingredient")
    elif isinstance(fact, Make):
        kinds = () if fact.lot else ("make",)
    elif isinstance(fact, Hoop):
        kinds = () if all(wheel.lot for wheel in fact.wheels) else ("wheel",)
    elif isinstance(fact, Cut):
        kinds = () if all(piece.lot for piece in fact.pieces) else ("portion", "trim")
    elif isinstance(fact, Blend):
        kinds = () if all(o.lot for o in fact.outputs) else ("portion", "trim", "blend")
    return frozenset(lot_code_prefix(fact.site, fact.at.date(), kind) for kind in kinds)


class _Giver:
    """Gives codes out, remembering the last serial of each prefix."""

    def __init__(self, fact: Fact, serials: dict[str, int], registers: Registers) -> None:
        self.fact = fact
        self.known = serials
        self.taken = _codes_in(fact)
        self.used: dict[str, int] = {}
        self.registers = registers
        self.given: list[GivenCode] = []

    def kind_of(self, product: str) -> str:
        entry = entry_at(self.registers, "product", product, to_us(self.fact.at))
        if not isinstance(entry, Product):
            raise refuse("not_declared", f"no product {product!r} is declared")
        return entry.kind

    def give(self, kind: str, pointer: str) -> str:
        prefix = lot_code_prefix(self.fact.site or "", self.fact.at.date(), kind)
        serial = self.used.get(prefix, self.known.get(prefix, 0))
        code = None
        while code is None:
            serial += 1
            if serial > LARGEST_GIVEN_SERIAL:
                raise refuse("not_valid", f"no serials are left under {prefix}")
            code = lot_code(prefix, serial)
            code = None if code in self.taken else code
        self.used[prefix] = serial
        self.given.append(GivenCode(pointer=pointer, lot=code))
        return code


def _codes_in(fact: Fact) -> frozenset[str | None]:
    """Give the codes an event already names for some of the lots it makes."""
    made: list[Any] = []
    if isinstance(fact, Hoop):
        made = fact.wheels
    elif isinstance(fact, Cut):
        made = fact.pieces
    elif isinstance(fact, Blend):
        made = fact.outputs
    return frozenset(item.lot for item in made)


def complete(
    event: Event, serials: dict[str, int], registers: Registers
) -> tuple[Event, list[GivenCode], dict[str, int]]:
    """Give the event with a code for every lot it makes, the codes given, and the serials used.

    ``serials`` holds the last serial used under each prefix and is not changed. Refuses a product
    no register knows, since its kind decides the code's letter.
    """
    fact = event.replacement if isinstance(event, Correct) else event
    if fact is None:
        return event, [], {}
    giver = _Giver(fact, serials, registers)
    at = "/replacement" if isinstance(event, Correct) else ""
    done: Fact = fact
    if isinstance(fact, Receive) and fact.lot is None:
        done = replace(fact, lot=giver.give(giver.kind_of(fact.product), f"{at}/lot"))
    elif isinstance(fact, Make) and fact.lot is None:
        done = replace(fact, lot=giver.give("make", f"{at}/lot"))
    elif isinstance(fact, Hoop):
        done = replace(fact, wheels=list(_filled(giver, fact.wheels, f"{at}/wheels", "wheel")))
    elif isinstance(fact, Cut):
        done = replace(fact, pieces=list(_filled(giver, fact.pieces, f"{at}/pieces", None)))
    elif isinstance(fact, Blend):
        done = replace(fact, outputs=list(_filled(giver, fact.outputs, f"{at}/outputs", None)))
    if isinstance(event, Correct):
        return replace(event, replacement=done), giver.given, giver.used
    return done, giver.given, giver.used


def _filled(giver: _Giver, items: list[Any], path: str, kind: str | None) -> Iterator[Any]:
    for i, item in enumerate(items):
        if item.lot is not None:
            yield item
        else:
            of_kind = kind or giver.kind_of(item.product)
            yield replace(item, lot=giver.give(of_kind, f"{path}/{i}/lot"))
