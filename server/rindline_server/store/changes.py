"""From a world in which events were recorded to the rows that must be written.

The lists of a world say in order what came into force and what went out of it; its steps say by
which event. What comes and goes again within one transaction is written once, with both ``seq``.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from rindline_server.ledger.entries import Edge, Entry
from rindline_server.ledger.world import Step, World
from rindline_server.store.entry_rows import entry_row
from rindline_server.store.ids import id_bytes
from rindline_server.store.record_rows import NO_BIRTH, Birth
from rindline_server.store.register_rows import version_row

__all__ = ["Changes"]

Row = list[Any]
LotId = Callable[[str], int]

_START = Step("", 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)


class _Kept:
    """Rows of one table that come into force and go out of it."""

    def __init__(self, void_seq: int) -> None:
        """Take the place of ``void_seq`` in a row."""
        self._place = void_seq
        self._fresh: dict[tuple[Any, ...], Row] = {}
        self.rows: list[Row] = []
        self.voids: list[tuple[Any, ...]] = []

    def come(self, key: tuple[Any, ...], row: Row) -> None:
        self.rows.append(row)
        self._fresh[key] = row

    def go(self, key: tuple[Any, ...], seq: int) -> None:
        """Take out of force: a row that came in this transaction, else one in the database."""
        row = self._fresh.pop(key, None)
        if row is not None:
            row[self._place] = seq
        else:
            self.voids.append((seq, *key))


class Changes:
    """All rows that follow from a world's steps, but for those derived of whole records.

    ``entries``, ``edges``, ``versions`` and ``findings`` have ``rows`` to insert and ``voids`` to
    take out of force, each with the ``seq`` and the key it is found by.
    """

    def __init__(self, world: World, seq_of: Mapping[str, int], lot_id: LotId) -> None:
        """Take the world, the ``seq`` of each step's event, and what numbers lots."""
        self.entries = _Kept(3)
        self.edges = _Kept(2)
        self.versions = _Kept(5)
        self.findings = _Kept(3)
        self.voids: list[Row] = []
        self.links: dict[tuple[str, bytes], Row] = {}
        self.births: dict[str, Birth] = {}
        self.register_seq: int | None = None
        self._lot_id = lot_id
        before = _START
        for step in world.steps:
            self._step(world, before, step, seq_of[step.event])
            before = step

    def _step(self, world: World, before: Step, step: Step, seq: int) -> None:
        def lines(name: str) -> Iterator[Any]:
            return iter(getattr(world, name)[getattr(before, name) : getattr(step, name)])

        for entry in lines("void_entries"):
            self._entry_goes(entry, seq)
        for part, entry in enumerate(lines("new_entries")):
            self._entry_comes(entry, seq, part)
        for edge in lines("void_edges"):
            self.edges.go(self._edge_key(edge), seq)
        for edge in lines("new_edges"):
            child_id, parent_id, line = key = self._edge_key(edge)
            self.edges.come(key, [seq, line, None, parent_id, child_id, edge.mass_g])
        for register, code, version in lines("void_versions"):
            self.versions.go((register, code, id_bytes(version.event)), seq)
            self.register_seq = seq
        for register, code, version in lines("new_versions"):
            row = version_row(register, code, version, seq)
            self.versions.come((register, code, row[2]), row)
            self.register_seq = seq
        for target, correction in lines("new_voids"):
            self.voids.append([id_bytes(target), id_bytes(correction), seq])
        for key_text, event in lines("new_links"):
            link = (key_text, id_bytes(event))
            # An event may name a case twice.
            self.links[link] = [*link, seq]
        for discrepancy, event in lines("void_findings"):
            self.findings.go((discrepancy, id_bytes(event)), seq)
        for discrepancy, event, finding in lines("new_findings"):
            found = (discrepancy, id_bytes(event))
            self.findings.come(found, [*found, seq, None, finding])

    def _entry_goes(self, entry: Entry, seq: int) -> None:
        key = (self._lot_id(entry.lot), id_bytes(entry.event), entry.line)
        self.entries.go(key, seq)
        if entry.kind == "born":
            self.births[entry.lot] = NO_BIRTH

    def _entry_comes(self, entry: Entry, seq: int, part: int) -> None:
        lot_id, event = self._lot_id(entry.lot), id_bytes(entry.event)
        key = (lot_id, event, entry.line)
        self.entries.come(key, entry_row(entry, lot_id, seq, part, event))
        if entry.kind == "born":
            self.births[entry.lot] = Birth(seq, entry.partner)

    def _edge_key(self, edge: Edge) -> tuple[int, int, int]:
        return self._lot_id(edge.child), self._lot_id(edge.parent), edge.line
