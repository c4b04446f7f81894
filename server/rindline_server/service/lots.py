"""Lots: one, many, and what does not fit together."""

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, time, timedelta

from rindline_schema.answers import (
    Discrepancy,
    DiscrepancyPage,
    HeldBecause,
    Holder,
    Losses,
    LotAnswer,
    LotPage,
    LotSummary,
)
from rindline_schema.params import AsOfParams, DiscrepancyParams, LotSearchParams
from rindline_schema.registers import LotKind, Product
from rindline_server.ledger.apply import Context
from rindline_server.ledger.discrepancies import describe, discrepancy_id
from rindline_server.ledger.holds import holds_at
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.states import Found, Holding, HoldSpan, LotRecord
from rindline_server.ledger.times import from_us, to_us
from rindline_server.ledger.world import Registers
from rindline_server.service.callers import Caller
from rindline_server.service.cursors import read_cursor, write_cursor
from rindline_server.service.earlier import Earlier, earlier
from rindline_server.service.problems import no_such_thing
from rindline_server.store import (
    HOLDER_SORTS,
    LOT_KINDS,
    LOT_STATES,
    DiscrepancyRow,
    HoldingRow,
    LotFilter,
    LotRow,
    ReadTransaction,
)

__all__ = [
    "discrepancies",
    "discrepancy_answer",
    "find_lots",
    "holds_on",
    "kind_of",
    "lot_answer",
    "lot_for",
    "may_see",
    "product_name",
]


def kind_of(number: int) -> LotKind:
    """Give the kind of lot a row holds."""
    return LOT_KINDS[number]


def product_name(registers: Registers, code: str | None, at_us: int | None) -> str | None:
    """Give the name a product had at a time, if it is known."""
    if code is None:
        return None
    entry = entry_at(registers, "product", code, at_us or 0)
    return (entry.label_name or entry.name) if isinstance(entry, Product) else None


def lot_for(snap: ReadTransaction, caller: Caller, code: str) -> LotRow:
    """Give a lot's row if the caller may see it, or say that there is no such lot.

    A customer sees what was dispatched to it; everybody else with a key sees all lots.
    """
    row = snap.lot(code)
    if row is None or not may_see(snap, caller, row.id):
        raise no_such_thing(f"lot {code}")
    return row


def may_see(snap: ReadTransaction, caller: Caller, lot_id: int) -> bool:
    """Tell whether the caller may see a lot: a customer, if some of it was sent there."""
    if caller.role != "customer":
        return True
    return any(s.partner == caller.partner for s in snap.sendings([lot_id]))


def _day_us(day: date) -> int:
    return to_us(datetime.combine(day, time(), UTC))


def find_lots(snap: ReadTransaction, params: LotSearchParams) -> LotPage:
    """Search lots, in order of their codes."""
    wanted = LotFilter(
        kind=params.kind,
        product=params.product,
        site=params.site,
        state=params.state,
        held=params.held,
        made_from_us=_day_us(params.made_from) if params.made_from else None,
        made_before_us=_day_us(params.made_to + timedelta(days=1)) if params.made_to else None,
        prefix=params.prefix,
    )
    rows = snap.find_lots(wanted, after=read_cursor(params.cursor), limit=params.limit + 1)
    page = rows[: params.limit]
    return LotPage(
        lots=[_summary(row) for row in page],
        as_of=snap.as_of,
        next_cursor=write_cursor(page[-1].code) if len(rows) > params.limit else None,
    )


def _summary(row: LotRow) -> LotSummary:
    return LotSummary(
        lot=row.code,
        kind=kind_of(row.kind),
        state=LOT_STATES[row.state],
        product=row.product,
        site=row.site,
        made_at=from_us(row.born_us) if row.born_us is not None else None,
        mass_g=row.ours_g,
        count=row.ours_count,
        held=row.held > 0,
    )


def _holder(row: HoldingRow) -> Holder:
    return Holder(
        where=HOLDER_SORTS[row.sort],
        holder=row.holder,
        room=row.room,
        mass_g=row.mass_g,
        count=row.count,
    )


def holds_on(snap: ReadTransaction, code: str, now_us: int) -> list[HeldBecause]:
    """Say which holds are in force on a lot now, its own and those spreading to it."""
    return _held_because(holds_at(snap.holds_world([code]), code, now_us))


def _held_because(spans: Iterable[tuple[str, HoldSpan]]) -> list[HeldBecause]:
    return [
        HeldBecause(lot=lot, since=from_us(span.since_us), reason=span.reason, event_id=span.event)
        for lot, span in spans
    ]


def discrepancy_answer(row: DiscrepancyRow) -> Discrepancy:
    """Say a discrepancy in words."""
    found = Found(row.kind, row.event, row.grams, sure=row.sure)
    return Discrepancy(
        discrepancy=row.id,
        kind=row.kind,
        lot=row.lot,
        detail=describe(row.lot, found),
        grams=row.grams,
        event_id=row.event,
        settled=row.finding is not None,
        finding=row.finding,
    )


def discrepancies(snap: ReadTransaction, params: DiscrepancyParams) -> DiscrepancyPage:
    """List discrepancies, in order of their ids."""
    lots = None if params.lot is None else list(snap.lot_ids([params.lot]).values())
    rows = snap.discrepancies(
        read_cursor(params.cursor),
        params.limit + 1,
        settled=None if params.show == "all" else params.show == "settled",
        lots=lots,
    )
    page = rows[: params.limit]
    return DiscrepancyPage(
        discrepancies=[discrepancy_answer(row) for row in page],
        as_of=snap.as_of,
        next_cursor=write_cursor(page[-1].id) if len(rows) > params.limit else None,
    )


def lot_answer(
    snap: ReadTransaction,
    caller: Caller,
    code: str,
    params: AsOfParams,
    context: Context,
) -> LotAnswer:
    """Give all that is known of a lot itself, now or as the record stood at an earlier seq.

    What other customers hold is not shown to a customer.
    """
    row = lot_for(snap, caller, code)
    if params.as_of is None or params.as_of >= snap.as_of:
        answer = _now(snap, row, context.now_us)
    else:
        if code not in snap.entries_as_of([row.id], params.as_of):
            raise no_such_thing(f"lot {code} at seq {params.as_of}")
        then = earlier(snap, [row.id], params.as_of, context)
        answer = _then(row, then, params.as_of, snap.registers)
    if caller.role != "customer":
        return answer
    own = [h for h in answer.holders if h.where == "partner" and h.holder == caller.partner]
    return LotAnswer(
        lot=answer.lot,
        kind=answer.kind,
        state=answer.state,
        site=answer.site,
        as_of=answer.as_of,
        product=answer.product,
        product_name=answer.product_name,
        made_at=answer.made_at,
        made_g=answer.made_g,
        made_count=answer.made_count,
        holders=own,
        holds=answer.holds,
    )


def _now(snap: ReadTransaction, row: LotRow, now_us: int) -> LotAnswer:
    found = snap.discrepancies(None, 1000, lots=[row.id])
    return LotAnswer(
        lot=row.code,
        kind=kind_of(row.kind),
        state=LOT_STATES[row.state],
        site=row.site,
        as_of=snap.as_of,
        product=row.product,
        product_name=product_name(snap.registers, row.product, row.born_us),
        made_at=from_us(row.born_us) if row.born_us is not None else None,
        made_g=row.made_g,
        made_count=row.made_count,
        holders=[_holder(holding) for holding in snap.holdings([row.id])],
        losses=_losses(row),
        holds=holds_on(snap, row.code, now_us),
        discrepancies=[discrepancy_answer(item) for item in found],
    )


def _losses(of: LotRow | LotRecord) -> Losses:
    return Losses(
        into_lots_g=of.into_g,
        ripening_loss_g=of.ripening_g,
        drained_g=of.drained_g,
        cutting_loss_g=of.cutting_g,
        samples_g=of.samples_g,
        discarded_g=of.discarded_g,
        unaccounted_g=of.unaccounted_g,
    )


def _then(row: LotRow, then: Earlier, as_of: int, registers: Registers) -> LotAnswer:
    """The lot as an earlier record had it; names and findings are today's."""
    record = then.record(row.code)
    return LotAnswer(
        lot=row.code,
        kind=kind_of(row.kind),
        state=record.state,
        site=row.site,
        as_of=as_of,
        product=record.product,
        product_name=product_name(registers, record.product, record.born_us),
        made_at=from_us(record.born_us) if record.born_us is not None else None,
        made_g=record.made_g,
        made_count=record.made_count,
        holders=_holders_of(record.holdings),
        losses=_losses(record),
        holds=_held_because(then.holds(row.code)),
        discrepancies=[
            Discrepancy(
                discrepancy=discrepancy_id(row.code, found),
                kind=found.kind,
                lot=row.code,
                detail=describe(row.code, found),
                grams=found.grams,
                event_id=found.event,
            )
            for found in record.found
        ],
    )


def _holders_of(holdings: Sequence[Holding]) -> list[Holder]:
    return [
        Holder(where=h.where, holder=h.holder, room=h.room, mass_g=h.mass_g, count=h.count)
        for h in holdings
    ]
