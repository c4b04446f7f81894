"""What is derived of the ledger, written down so that the order of telling leaves no trace in it.

Numbers of rows and lots depend on that order, and so do rows that are out of force: lots are named
by their codes here, and ``seq`` and the like are left out. A lot that only events since voided
ever mentioned is left out too: told the other way round, it would never have been mentioned.
"""

from collections import Counter
from collections.abc import Iterable
from typing import Any

import msgspec
import sqlalchemy as sa

from rindline_schema.codes import kind_of_code
from rindline_server.ledger.discrepancies import discrepancy_id
from rindline_server.ledger.entries import Entry
from rindline_server.ledger.world import World
from rindline_server.store import HOLDER_SORTS, LOT_KINDS, LOT_STATES
from rindline_server.store.database import normal_url
from rindline_server.store.entry_rows import entry_row
from rindline_server.store.tables import DERIVED

__all__ = ["Derived", "derived_of_database", "derived_of_world"]

Derived = dict[str, list[str]]
"""Rows of each table, in an order of their own."""

_BY_ORDER = {"seq", "void_seq", "born_seq", "part"}
_LOTS = {"lot_id", "parent_id", "child_id"}


def _in_order(rows: Iterable[Any]) -> list[str]:
    return sorted(repr(row) for row in rows)


# --- from the database --------------------------------------------------------------------------


def derived_of_database(url: str) -> Derived:
    """Read every derived table."""
    engine = sa.create_engine(normal_url(url))
    try:
        with engine.connect() as connection:
            tables = {
                table.name: [dict(row._mapping) for row in connection.execute(sa.select(table))]
                for table in DERIVED
            }
    finally:
        engine.dispose()
    return _named(tables)


def _named(tables: dict[str, list[dict[str, Any]]]) -> Derived:
    codes = {row["id"]: row["code"] for row in tables["lots"]}
    standing = {row["lot_id"] for row in tables["entries"] if row["void_seq"] is None}
    voided = {row["target"] for row in tables["voids"]}
    tables["lots"] = [row for row in tables["lots"] if row.pop("id") in standing]
    tables["links"] = [row for row in tables["links"] if row["event"] not in voided]
    return {
        name: _in_order(
            {
                column: _plain(codes[value] if column in _LOTS else value)
                for column, value in sorted(row.items())
                if column not in _BY_ORDER
            }
            for row in rows
            if row.get("void_seq") is None
        )
        for name, rows in tables.items()
    }


def _plain(value: Any) -> Any:
    """Booleans are numbers on SQLite, and bytes need no type of their own."""
    if isinstance(value, bool):
        return int(value)
    return bytes(value).hex() if isinstance(value, bytes | memoryview) else value


# --- from the pure rules ------------------------------------------------------------------------


def derived_of_world(world: World) -> Derived:
    """Write down what the pure rules made of the events, as the tables would hold it."""
    rows: dict[str, list[dict[str, Any]]] = {table.name: [] for table in DERIVED}
    for lot, book in world.books.items():
        if book.entries:
            _write_lot(rows, lot, world)
    edges = Counter(world.new_edges)
    edges.subtract(Counter(world.void_edges))
    rows["edges"] = [
        {"parent_id": e.parent, "child_id": e.child, "line": e.line, "mass_g": e.mass_g}
        for e in edges.elements()
    ]
    rows["register_versions"] = [
        {
            "register": register,
            "code": code,
            "event": _id(version.event),
            "at_us": version.at_us,
            "entry": msgspec.json.encode(version.entry),
        }
        for (register, code), versions in world.registers.items()
        for version in versions
    ]
    gone = set(world.void_findings)
    rows["findings"] = [
        {"discrepancy": discrepancy, "event": _id(event), "finding": finding}
        for discrepancy, event, finding in world.new_findings
        if (discrepancy, event) not in gone
    ]
    rows["voids"] = [
        {"target": _id(target), "correction": _id(correction)}
        for target, correction in world.voids.items()
    ]
    rows["links"] = [
        {"key": key, "event": _id(str(fact.id))}
        for key, facts in world.links.items()
        for fact in facts
    ]
    rows["serials"] = [{"prefix": p, "last": last} for p, last in world.serials.items()]
    return {
        name: _in_order({c: _plain(v) for c, v in sorted(row.items())} for row in some)
        for name, some in rows.items()
    }


def _id(text: str) -> bytes:
    return bytes.fromhex(text.replace("-", ""))


def _write_lot(rows: dict[str, list[dict[str, Any]]], lot: str, world: World) -> None:
    book = world.books[lot]
    record = book.record
    born = next((entry for entry in book.entries if entry.kind == "born"), None)
    ours = [holding for holding in record.holdings if holding.where != "partner"]
    figures = ("into", "ripening", "drained", "cutting", "samples", "discarded", "unaccounted")
    rows["lots"].append(
        {
            "code": lot,
            "kind": LOT_KINDS.index(kind_of_code(lot)),
            "site": _letters(lot),
            "product": record.product,
            "supplier": born.partner if born else None,
            "state": LOT_STATES.index(record.state),
            "held": record.hold_flag,
            "born_us": record.born_us,
            "made_g": record.made_g,
            "made_count": record.made_count,
            "ours_g": sum(holding.mass_g for holding in ours),
            "ours_count": sum(holding.count for holding in ours),
            **{f"{name}_g": getattr(record, f"{name}_g") for name in figures},
        }
    )
    rows["entries"] += [_entry(entry) for entry in book.entries]
    rows["holdings"] += [
        {
            "lot_id": lot,
            "sort": HOLDER_SORTS.index(h.where),
            "holder": h.holder,
            "room": h.room,
            "to_site": h.to_site,
            "mass_g": h.mass_g,
            "count": h.count,
        }
        for h in record.holdings
    ]
    for name, parts in (("stays", record.stays), ("sent", record.sent)):
        rows[name] += [
            {"lot_id": lot, "number": number} | _fields(part) for number, part in enumerate(parts)
        ]
    rows["holds"] += [{"lot_id": lot} | _fields(span) for span in record.holds]
    rows["clears"] += [{"lot_id": lot, "at_us": at_us} for at_us in set(record.cleared_us)]
    rows["discrepancies"] += [
        {"id": discrepancy_id(lot, found), "lot_id": lot} | _fields(found) for found in record.found
    ]


def _letters(lot: str) -> str:
    return lot[: next(i for i, character in enumerate(lot) if character.isdigit())]


def _fields(part: msgspec.Struct) -> dict[str, Any]:
    fields = msgspec.structs.asdict(part)
    if "event" in fields:
        fields["event"] = _id(fields["event"])
    return fields


def _entry(entry: Entry) -> dict[str, Any]:
    fields = _fields(entry)
    fields["lot_id"] = fields.pop("lot")
    # The tables hold the kind as a number of the store's own.
    fields["kind"] = entry_row(entry, 0, 0, 0, b"")[6]
    return fields
