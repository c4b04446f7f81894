"""Drills that were run: kept as they were answered."""

from collections.abc import Iterable
from typing import Any

from rindline_server.store.ids import id_bytes, id_text
from rindline_server.store.link import Link
from rindline_server.store.rows import DrillRow

__all__ = ["find", "keep", "newest"]

_COLUMNS = "id, asked_us, asked_by, as_of, request, answer"


def _drill(row: Iterable[Any]) -> DrillRow:
    drill_id, *rest = row
    return DrillRow(id_text(drill_id), *rest)


def find(link: Link, drill_id: str) -> DrillRow | None:
    """Give one drill."""
    row = link.row(f"SELECT {_COLUMNS} FROM drills WHERE id = ?", [id_bytes(drill_id)])
    return _drill(row) if row is not None else None


def newest(link: Link, before: tuple[int, str] | None, limit: int) -> list[DrillRow]:
    """Give drills, newest first, from those before (asked_us, id) on."""
    where, parameters = "", []
    if before is not None:
        where = "WHERE (asked_us, id) < (?, ?) "
        parameters = [before[0], id_bytes(before[1])]
    rows = link.rows(
        f"SELECT {_COLUMNS} FROM drills {where}ORDER BY asked_us DESC, id DESC LIMIT ?",
        [*parameters, limit],
    )
    return [_drill(row) for row in rows]


def keep(link: Link, row: DrillRow) -> bool:
    """Keep a drill's answer; False if one with this id is kept already."""
    # One statement: between a look and an insert, somebody else could keep the same one.
    statement = (
        f"INSERT INTO drills ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO NOTHING"
    )
    return link.run(statement, [id_bytes(row.id), *row[1:]]) == 1
