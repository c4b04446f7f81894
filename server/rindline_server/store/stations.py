"""Outboxes of stations and blocks of lot codes: what stations say of themselves.

None of it is derived of the ledger: a rebuild leaves it as it is.
"""

from collections.abc import Sequence
from typing import NamedTuple

from rindline_server.store import tables
from rindline_server.store.link import Link

__all__ = [
    "CodeBlockRow",
    "OutboxRow",
    "born_among",
    "code_block",
    "code_blocks",
    "last_serial",
    "outbox",
    "outboxes",
    "put_code_block",
    "put_outbox",
    "reserved",
]


class OutboxRow(NamedTuple):
    """An outbox file of a station; ``recorded`` and ``refused`` are ranges of numbers as JSON.

    ``station_us`` is what the station's clock said when it last spoke.
    """

    id: bytes
    key: str
    name: str
    site: str | None
    heard_us: int
    station_us: int
    next_number: int
    queued: int
    set_aside: int
    oldest_age_ms: int | None
    clock_ahead_ms: int
    recorded: str
    refused: str


class CodeBlockRow(NamedTuple):
    """A block of lot codes a station reserved; ``spoiled`` is a JSON array of serials."""

    id: bytes
    key: str
    name: str
    site: str
    day: str
    kind: str
    prefix: str
    first_serial: int
    last_serial: int
    codes: int
    reserved_us: int
    stamped_to: int
    spoiled: str
    closed: bool


_OUTBOX = ", ".join(OutboxRow._fields)
_BLOCK = ", ".join(CodeBlockRow._fields)


def _block_row(row: Sequence[object]) -> CodeBlockRow:
    block = CodeBlockRow(*row)  # type: ignore[arg-type]
    return block._replace(closed=bool(block.closed))


def outbox(link: Link, outbox_id: bytes) -> OutboxRow | None:
    """Give one outbox."""
    row = link.row(f"SELECT {_OUTBOX} FROM outboxes WHERE id = ?", [outbox_id])
    return OutboxRow(*row) if row is not None else None


def outboxes(link: Link) -> list[OutboxRow]:
    """Give all outboxes, by the name of their station."""
    rows = link.rows(f"SELECT {_OUTBOX} FROM outboxes ORDER BY name, id")
    return [OutboxRow(*row) for row in rows]


def put_outbox(link: Link, row: OutboxRow) -> None:
    """Keep an outbox's row, new or changed."""
    link.put(tables.OUTBOXES, [row])


def code_block(link: Link, block_id: bytes) -> CodeBlockRow | None:
    """Give one block."""
    row = link.row(f"SELECT {_BLOCK} FROM code_blocks WHERE id = ?", [block_id])
    return _block_row(row) if row is not None else None


def code_blocks(link: Link, before: tuple[int, bytes] | None, limit: int) -> list[CodeBlockRow]:
    """Give blocks, newest first, from those before (reserved_us, id) on."""
    where, values = "", list[object]()
    if before is not None:
        where = "WHERE reserved_us < ? OR (reserved_us = ? AND id < ?) "
        values = [before[0], *before]
    rows = link.rows(
        f"SELECT {_BLOCK} FROM code_blocks {where}ORDER BY reserved_us DESC, id DESC LIMIT ?",
        [*values, limit],
    )
    return [_block_row(row) for row in rows]


def put_code_block(link: Link, row: CodeBlockRow) -> None:
    """Keep a block's row, new or changed."""
    link.put(tables.CODE_BLOCKS, [row])


def last_serial(link: Link, prefix: str) -> int:
    """Give the last serial under a prefix that was given, told or reserved; 0 if none was."""
    row = link.row("SELECT last FROM serials WHERE prefix = ?", [prefix])
    return max(row[0] if row is not None else 0, reserved(link, [prefix]).get(prefix, 0))


def reserved(link: Link, prefixes: Sequence[str]) -> dict[str, int]:
    """Give the last reserved serial under each of these prefixes that has one."""
    rows = link.rows(
        "SELECT prefix, MAX(last_serial) FROM code_blocks WHERE prefix {any_text} GROUP BY prefix",
        [link.many(list(prefixes))],
    )
    return dict(rows)


def born_among(link: Link, codes: Sequence[str]) -> set[str]:
    """Give those of these lot codes that a recorded event made a lot of."""
    rows = link.rows(
        "SELECT code FROM lots WHERE code {any_text} AND born_us IS NOT NULL",
        [link.many(list(codes))],
    )
    return {code for (code,) in rows}
