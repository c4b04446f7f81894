"""Recall drills: from any lots, what they touch, who holds it, and whether the grams add up."""

from collections.abc import Sequence
from datetime import datetime
from time import perf_counter
from uuid import UUID

import msgspec

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import DrillAnswer, DrillPage, DrillRequest, DrillSummary
from rindline_schema.params import PageParams
from rindline_server.ledger.times import from_us, to_us
from rindline_server.service.callers import Caller
from rindline_server.service.cursors import read_cursor, write_cursor
from rindline_server.service.drills.balance import stage_balances
from rindline_server.service.drills.holders import customers_hold, in_transit, on_hand
from rindline_server.service.drills.reach import Reach, reach
from rindline_server.service.lots import discrepancy_answer
from rindline_server.service.problems import no_such_thing, problem_error
from rindline_server.service.stations import stations_behind
from rindline_server.service.traced import count_kinds
from rindline_server.store import LOT_KINDS, LOT_STATES, DrillRow, ReadTransaction, Store

__all__ = ["drill_page", "kept_drill", "run_drill"]

_MOST_DISCREPANCIES = 1_000
_ENCODE = msgspec.json.Encoder().encode
_REQUEST = msgspec.json.Decoder(DrillRequest)
_ANSWER = msgspec.json.Decoder(DrillAnswer)


def run_drill(store: Store, caller: Caller, request: DrillRequest, now: datetime) -> DrillAnswer:
    """Run a drill over one snapshot and keep its answer.

    The same request under the same id again gives the kept answer. Raises ProblemError
    ``not_found`` naming the lots nobody ever mentioned, ``id_reused`` for another request.
    """
    began = perf_counter()
    with store.reading() as snap:
        kept = _kept_before(snap, request)
        if kept is not None:
            return kept
        answer = _answer(snap, caller, request, now)
    took_ms = max(1, round((perf_counter() - began) * 1000))
    answer = msgspec.structs.replace(answer, took_ms=took_ms)
    row = DrillRow(
        id=str(request.id),
        asked_us=to_us(now),
        asked_by=caller.name,
        as_of=answer.as_of,
        request=_ENCODE(request),
        answer=_ENCODE(answer),
    )
    if not store.keep_drill(row):
        # Somebody asked under the same id meanwhile: theirs is the one that is kept.
        with store.reading() as snap:
            kept = _kept_before(snap, request)
            if kept is not None:
                return kept
    return answer


def _kept_before(snap: ReadTransaction, request: DrillRequest) -> DrillAnswer | None:
    row = snap.drill(str(request.id))
    if row is None:
        return None
    if _REQUEST.decode(row.request) != request:
        raise problem_error("id_reused", f"drill {request.id} was run for something else")
    return msgspec.structs.replace(_ANSWER.decode(row.answer), replay=True)


def _answer(
    snap: ReadTransaction, caller: Caller, request: DrillRequest, now: datetime
) -> DrillAnswer:
    roots = snap.lot_ids(request.lots)
    missing = [lot for lot in request.lots if lot not in roots]
    if missing:
        raise no_such_thing(f"lot {', '.join(missing[:20])}")
    found = reach(snap, list(roots.values()), request.direction)
    ids = list(found.lots)
    lots = found.lots.values()
    discrepancies = snap.discrepancies(None, _MOST_DISCREPANCIES, settled=False, lots=ids)
    return DrillAnswer(
        id=request.id,
        purpose=request.purpose,
        direction=request.direction,
        lots=list(request.lots),
        asked_at=now,
        asked_by=caller.name,
        took_ms=0,
        as_of=snap.as_of,
        counts=count_kinds(
            (LOT_KINDS[lot.kind], LOT_STATES[lot.state], lot.made_g) for lot in lots
        ),
        on_hand=on_hand(found.holdings),
        in_transit=in_transit(found.holdings),
        customers=customers_hold(found.holdings, snap.sendings(ids), snap.registers, to_us(now)),
        stages=stage_balances(snap.balances(ids), found),
        pending=sorted(lot.code for lot in lots if LOT_STATES[lot.state] == "pending"),
        discrepancies=[discrepancy_answer(row) for row in discrepancies],
        held_lots=_held(snap, found),
        stations_behind=stations_behind(snap),
        safety_note=SAFETY_NOTE,
        reason=request.reason,
    )


def _held(snap: ReadTransaction, found: Reach) -> int:
    return len(snap.held_among(list(found.lots)))


def _summary(row: DrillRow) -> DrillSummary:
    request = _REQUEST.decode(row.request)
    return DrillSummary(
        id=request.id,
        purpose=request.purpose,
        direction=request.direction,
        lots=list(request.lots),
        asked_at=from_us(row.asked_us),
        asked_by=row.asked_by,
        took_ms=_ANSWER.decode(row.answer).took_ms,
        as_of=row.as_of,
    )


def drill_page(snap: ReadTransaction, params: PageParams) -> DrillPage:
    """List drills, newest first."""
    rows = snap.drills(_before(read_cursor(params.cursor)), params.limit + 1)
    page: Sequence[DrillRow] = rows[: params.limit]
    last = page[-1] if len(rows) > params.limit else None
    return DrillPage(
        drills=[_summary(row) for row in page],
        next_cursor=write_cursor(f"{last.asked_us}|{last.id}") if last is not None else None,
    )


def _before(key: str | None) -> tuple[int, str] | None:
    if key is None:
        return None
    asked_us, _, drill_id = key.partition("|")
    if not asked_us.isdigit() or len(asked_us) > 18 or not drill_id:
        raise problem_error("bad_cursor", "the cursor is of another list")
    return int(asked_us), drill_id


def kept_drill(snap: ReadTransaction, drill_id: UUID) -> DrillAnswer:
    """Give a drill as it was answered at the time."""
    row = snap.drill(str(drill_id))
    if row is None:
        raise no_such_thing(f"drill {drill_id}")
    return _ANSWER.decode(row.answer)
