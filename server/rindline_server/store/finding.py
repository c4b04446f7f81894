"""Searching: lots and discrepancies by conditions, page by page."""

from collections.abc import Sequence
from typing import Any

from rindline_server.store.holds import REACHED_BY_SPREADING, any_spreading_hold
from rindline_server.store.ids import id_text
from rindline_server.store.link import Link
from rindline_server.store.lots import LOT_COLUMNS
from rindline_server.store.rows import (
    LOT_KINDS,
    LOT_STATES,
    DiscrepancyRow,
    LotFilter,
    LotRow,
)

__all__ = ["find_discrepancies", "find_lots"]


class _Conditions:
    """Conditions of a search and their parameters, in step."""

    def __init__(self) -> None:
        """Begin with no condition."""
        self._texts: list[str] = []
        self.parameters: list[Any] = []

    def add(self, text: str, *parameters: Any) -> None:
        self._texts.append(text)
        self.parameters += parameters

    @property
    def where(self) -> str:
        return " WHERE " + " AND ".join(self._texts) if self._texts else ""


def _after_prefix(prefix: str) -> str:
    """Give the first text after all those with a prefix, in the order of characters."""
    return prefix[:-1] + chr(ord(prefix[-1]) + 1)


def _lot_conditions(link: Link, which: LotFilter) -> _Conditions:
    found = _Conditions()
    if which.prefix is not None:
        found.add("l.code >= ? AND l.code < ?", which.prefix, _after_prefix(which.prefix))
    if which.site is not None:
        # After the site's letters comes a digit: so the codes themselves narrow it down.
        found.add("l.code >= ? AND l.code < ?", f"{which.site}0", f"{which.site}:")
        found.add("l.site = ?", which.site)
    if which.kind is not None:
        found.add("l.kind = ?", LOT_KINDS.index(which.kind))
    if which.product is not None:
        found.add("l.product = ?", which.product)
    if which.state is not None:
        found.add("l.state = ?", LOT_STATES.index(which.state))
    if which.made_from_us is not None:
        found.add("l.born_us >= ?", which.made_from_us)
    if which.made_before_us is not None:
        found.add("l.born_us < ?", which.made_before_us)
    if which.held is not None:
        held = "l.held > 0"
        if any_spreading_hold(link):
            held = f"({held} OR l.id IN ({REACHED_BY_SPREADING}))"
        found.add(held if which.held else f"NOT {held}")
    return found


def find_lots(link: Link, which: LotFilter, after: str | None, limit: int) -> list[LotRow]:
    """Give lots in order of their codes, from the first code after ``after`` on."""
    conditions = _lot_conditions(link, which)
    if after is not None:
        conditions.add("l.code > ?", after)
    rows = link.rows(
        f"SELECT {LOT_COLUMNS} FROM lots l{conditions.where} ORDER BY l.code LIMIT ?",
        [*conditions.parameters, limit],
    )
    return [LotRow(*row) for row in rows]


_FINDING = (
    "(SELECT f.finding FROM findings f WHERE f.discrepancy = d.id AND f.void_seq IS NULL "
    "ORDER BY f.seq DESC LIMIT 1)"
)


def find_discrepancies(
    link: Link,
    after: str | None,
    limit: int,
    *,
    settled: bool | None,
    lots: Sequence[int] | None,
) -> list[DiscrepancyRow]:
    """Give discrepancies in order of their ids after ``after``."""
    conditions = _Conditions()
    if after is not None:
        conditions.add("d.id > ?", after)
    if lots is not None:
        conditions.add("d.lot_id {any_big}", link.many(lots))
    if settled is not None:
        conditions.add(f"{_FINDING} IS {'NOT ' if settled else ''}NULL")
    rows = link.rows(
        f"SELECT d.id, d.kind, l.code, d.event, d.grams, d.sure, {_FINDING} "
        f"FROM discrepancies d JOIN lots l ON l.id = d.lot_id{conditions.where} "
        "ORDER BY d.id LIMIT ?",
        [*conditions.parameters, limit],
    )
    return [
        DiscrepancyRow(row[0], row[1], row[2], id_text(row[3]), row[4], bool(row[5]), row[6])
        for row in rows
    ]
