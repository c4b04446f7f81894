"""Reading the ledger: ids told before, the feed, single events."""

from collections.abc import Iterable, Sequence
from typing import Any

from rindline_server.store.ids import id_bytes, id_text
from rindline_server.store.link import Link
from rindline_server.store.rows import Known, RecordedRow

__all__ = ["bodies", "feed", "find", "known"]

_RECORDED = (
    "SELECT l.seq, l.id, l.station, l.recorded_us, l.body, l.hash, v.correction "
    "FROM ledger l LEFT JOIN voids v ON v.target = "
)


def known(link: Link, ids: Sequence[str]) -> dict[str, Known]:
    """Give what was answered to the ids among these that were told before."""
    wanted = [id_bytes(text) for text in ids]
    found: dict[str, Known] = {}
    for column in ("id", "replacement_id"):
        rows = link.rows_for_ids(
            f"SELECT {column}, seq, told_hash, answer FROM ledger WHERE {column} {{any_id}}", wanted
        )
        for event_id, seq, told_hash, answer in rows:
            is_replacement = column == "replacement_id"
            found[id_text(event_id)] = Known(seq, told_hash, answer, is_replacement)
    return found


def _recorded(row: Iterable[Any], *, is_replacement: bool) -> RecordedRow:
    seq, event_id, station, recorded_us, body, digest, correction = row
    voided_by = id_text(correction) if correction is not None else None
    return RecordedRow(
        seq, id_text(event_id), station, recorded_us, body, digest, voided_by, is_replacement
    )


def feed(link: Link, after: int, limit: int) -> list[RecordedRow]:
    """Give the events after a ``seq``, in order."""
    rows = link.rows(f"{_RECORDED} l.id WHERE l.seq > ? ORDER BY l.seq LIMIT ?", [after, limit])
    return [_recorded(row, is_replacement=False) for row in rows]


def find(link: Link, event_id: str) -> RecordedRow | None:
    """Give one event by its id, or the correction it was told in."""
    for column in ("id", "replacement_id"):
        row = link.row(f"{_RECORDED} l.{column} WHERE l.{column} = ?", [id_bytes(event_id)])
        if row is not None:
            return _recorded(row, is_replacement=column == "replacement_id")
    return None


def bodies(link: Link, after: int, limit: int) -> list[tuple[int, bytes]]:
    """Give ``seq`` and body of the events after a ``seq``, in order."""
    rows = link.rows(
        "SELECT seq, body FROM ledger WHERE seq > ? ORDER BY seq LIMIT ?", [after, limit]
    )
    return [(row[0], row[1]) for row in rows]
