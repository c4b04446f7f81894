"""Origin: the short answer for a shop, from portion to wheel, make and milk."""

from collections.abc import Sequence
from datetime import datetime

import msgspec

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    HeldBecause,
    IngredientUsed,
    MakeOfOrigin,
    MilkShare,
    OriginAnswer,
    WheelOfOrigin,
)
from rindline_schema.events import Correct, Event, Make
from rindline_schema.registers import MilkTreatment, Partner
from rindline_server.calc.shares import milk_shares
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.times import from_us, to_us
from rindline_server.ledger.world import Registers
from rindline_server.service.callers import Caller
from rindline_server.service.lots import holds_on, kind_of, may_see, product_name
from rindline_server.service.problems import no_such_thing
from rindline_server.store import LOT_STATES, AncestorRow, Origin, Store

__all__ = ["origin_for"]

_EVENT = msgspec.json.Decoder(Event)


def origin_for(store: Store, caller: Caller, code: str, now: datetime) -> OriginAnswer:
    """Say where a lot came from, with its share by mass of each milk delivery.

    Raises ProblemError ``not_found`` if there is no such lot, or the caller may not see it.
    """
    if caller.role != "customer":
        found = store.origin(code)
        if found is not None and not found[0].may_be_held:
            return _answer(*found, (), now)
    with store.reading() as snap:
        origin = snap.origin(code)
        if origin is None or not may_see(snap, caller, origin.lot.id):
            raise no_such_thing(f"lot {code}")
        holds = holds_on(snap, code, to_us(now)) if origin.may_be_held else ()
        return _answer(origin, snap.registers, holds, now)


def _answer(
    origin: Origin, registers: Registers, holds: Sequence[HeldBecause], now: datetime
) -> OriginAnswer:
    row = origin.lot
    by_kind: dict[str, list[AncestorRow]] = {}
    for lot in origin.lots:
        by_kind.setdefault(kind_of(lot.kind), []).append(lot)
    first_made = min((m.born_us for m in by_kind.get("make", ()) if m.born_us), default=None)
    return OriginAnswer(
        lot=row.code,
        kind=kind_of(row.kind),
        state=LOT_STATES[row.state],
        as_of=origin.as_of,
        safety_note=SAFETY_NOTE,
        product=row.product,
        product_name=product_name(registers, row.product, row.born_us),
        site=row.site,
        made_at=_moment(row.born_us),
        age_days=(now - from_us(first_made)).days if first_made is not None else None,
        made_g=row.made_g,
        held=bool(holds),
        holds=list(holds),
        wheels=[
            WheelOfOrigin(lot=lot.code, made_at=_moment(lot.born_us), made_g=lot.made_g)
            for lot in by_kind.get("wheel", ())
        ],
        makes=[
            MakeOfOrigin(
                lot=lot.code,
                site=lot.site,
                made_at=_moment(lot.born_us),
                milk_treatment=_treatment(origin.makes.get(lot.id)),
            )
            for lot in by_kind.get("make", ())
        ],
        milk=_milk(origin, by_kind.get("milk", ()), registers),
        ingredients=[
            IngredientUsed(
                lot=lot.code,
                product=lot.product,
                product_name=product_name(registers, lot.product, lot.born_us),
                supplier=lot.supplier,
                supplier_name=_partner_name(registers, lot),
            )
            for lot in by_kind.get("ingredient", ())
        ],
        pending=[lot.code for lot in origin.lots if LOT_STATES[lot.state] == "pending"],
    )


def _moment(at_us: int | None) -> datetime | None:
    return from_us(at_us) if at_us is not None else None


def _partner_name(registers: Registers, lot: AncestorRow) -> str | None:
    if lot.supplier is None:
        return None
    entry = entry_at(registers, "partner", lot.supplier, lot.born_us or 0)
    return entry.name if isinstance(entry, Partner) else None


def _treatment(body: bytes | None) -> MilkTreatment | None:
    if body is None:
        return None
    event = _EVENT.decode(body)
    fact = event.replacement if isinstance(event, Correct) else event
    return fact.heat.treatment if isinstance(fact, Make) and fact.heat is not None else None


def _milk(origin: Origin, milk: Sequence[AncestorRow], registers: Registers) -> list[MilkShare]:
    parents: dict[int, list[tuple[int, int]]] = {}
    for edge in origin.edges:
        parents.setdefault(edge.child_id, []).append((edge.parent_id, edge.mass_g))
    milk_ids = {lot.id for lot in milk}
    shares = milk_shares(origin.lot.id, parents, milk_ids.__contains__)
    answers = [
        MilkShare(
            lot=lot.code,
            share_ppm=shares.get(lot.id, 0),
            supplier=lot.supplier,
            supplier_name=_partner_name(registers, lot),
            received_at=_moment(lot.born_us),
            pending=LOT_STATES[lot.state] == "pending",
        )
        for lot in milk
    ]
    return sorted(answers, key=lambda share: (-share.share_ppm, share.lot))
