"""Blocks of lot codes that stations reserve, and what became of each code."""

import json
from datetime import date
from uuid import UUID

import msgspec

from rindline_schema.answers import (
    BlockUse,
    CodeBlock,
    CodeBlockPage,
    CodeBlockRequest,
    CodeBlockState,
)
from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.params import PageParams
from rindline_schema.registers import LotKind
from rindline_server.ledger.completing import LARGEST_GIVEN_SERIAL
from rindline_server.ledger.times import from_us
from rindline_server.service.callers import Caller
from rindline_server.service.cursors import read_cursor, write_cursor
from rindline_server.service.problems import problem_error
from rindline_server.store import CodeBlockRow, ReadTransaction, WriteTransaction

__all__ = ["block_page", "note_use", "reserve_codes"]

_MOST_LOTS = 100


def reserve_codes(
    tx: WriteTransaction, caller: Caller, request: CodeBlockRequest, now_us: int
) -> CodeBlock:
    """Reserve usable codes that nobody else is given; the same request gets the same block.

    Under the writer's lock, so that no two stations can be given one serial.
    """
    site = request.site or caller.site
    if site is None:
        raise problem_error("not_valid", "the request names no site, and the key belongs to none")
    if caller.site is not None and site != caller.site:
        raise problem_error("not_your_site", f"this key reserves codes of {caller.site}")
    if ("site", site) not in tx.registers:
        raise problem_error("not_declared", f"no site {site!r} is declared")
    known = tx.code_block(request.id.bytes)
    if known is not None:
        asked = (site, request.day.isoformat(), request.kind, request.count)
        if (known.site, known.day, known.kind, known.codes) != asked:
            raise problem_error("id_reused", f"{request.id} reserved another block")
        return _block(known)
    prefix = lot_code_prefix(site, request.day, request.kind)
    first, last = _span(prefix, tx.last_serial(prefix) + 1, request.count)
    row = CodeBlockRow(
        id=request.id.bytes,
        key=caller.key,
        name=caller.name,
        site=site,
        day=request.day.isoformat(),
        kind=request.kind,
        prefix=prefix,
        first_serial=first,
        last_serial=last,
        codes=request.count,
        reserved_us=now_us,
        stamped_to=0,
        spoiled="[]",
        closed=False,
    )
    tx.put_code_block(row)
    return _block(row)


def _span(prefix: str, first: int, count: int) -> tuple[int, int]:
    """Give the first and last serial of the next ``count`` usable codes."""
    serial, left = first - 1, count
    while left:
        serial += 1
        if serial > LARGEST_GIVEN_SERIAL:
            raise problem_error("not_valid", f"too few serials are left under {prefix}")
        left -= lot_code(prefix, serial) is not None
    return first, serial


def note_use(tx: WriteTransaction, caller: Caller, use: BlockUse) -> None:
    """Keep what became of a block so far; what was said earlier is never taken back."""
    row = tx.code_block(use.block.bytes)
    if row is None or (caller.site is not None and row.site != caller.site):
        return
    spoiled = {*json.loads(row.spoiled), *use.spoiled}
    tx.put_code_block(
        row._replace(
            stamped_to=max(row.stamped_to, min(use.stamped_to, row.last_serial)),
            spoiled=json.dumps(sorted(spoiled)),
            closed=row.closed or use.closed,
        )
    )


def _block(row: CodeBlockRow) -> CodeBlock:
    kind: LotKind = msgspec.convert(row.kind, LotKind)
    return CodeBlock(
        id=UUID(bytes=row.id),
        site=row.site,
        day=date.fromisoformat(row.day),
        kind=kind,
        prefix=row.prefix,
        first_serial=row.first_serial,
        last_serial=row.last_serial,
        codes=row.codes,
        reserved_at=from_us(row.reserved_us),
    )


def _state(snap: ReadTransaction, row: CodeBlockRow) -> CodeBlockState:
    serials = range(row.first_serial, row.stamped_to + 1)
    stamped = [code for serial in serials if (code := lot_code(row.prefix, serial)) is not None]
    heard = snap.born_among(stamped)
    spoiled = {lot_code(row.prefix, serial) for serial in json.loads(row.spoiled)} - heard
    unheard = [code for code in stamped if code not in heard and code not in spoiled]
    return CodeBlockState(
        **msgspec.structs.asdict(_block(row)),
        station=row.name,
        stamped=len(stamped),
        heard=len(heard),
        unheard=len(unheard),
        spoiled=len(spoiled.intersection(stamped)),
        unused=row.codes - len(stamped),
        closed=row.closed,
        unheard_lots=unheard[:_MOST_LOTS],
    )


def block_page(snap: ReadTransaction, params: PageParams) -> CodeBlockPage:
    """List the blocks, newest first."""
    rows = snap.code_blocks(_before(read_cursor(params.cursor)), params.limit + 1)
    page = rows[: params.limit]
    last = page[-1] if len(rows) > params.limit else None
    return CodeBlockPage(
        blocks=[_state(snap, row) for row in page],
        as_of=snap.as_of,
        next_cursor=write_cursor(f"{last.reserved_us}|{last.id.hex()}") if last else None,
    )


def _before(key: str | None) -> tuple[int, bytes] | None:
    if key is None:
        return None
    reserved_us, _, block = key.partition("|")
    try:
        return int(reserved_us), UUID(block).bytes
    except ValueError:
        raise problem_error("bad_cursor", "the cursor is of another list") from None
