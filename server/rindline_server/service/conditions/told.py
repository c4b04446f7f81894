"""What the conditions of a lot are worked out from: read once, for all lots on its paths."""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from rindline_schema.registers import MilkTreatment
from rindline_server.calc.ways import ways_down
from rindline_server.ledger.entries import EntryKind
from rindline_server.service.callers import Caller
from rindline_server.service.lots import kind_of
from rindline_server.store import (
    Ancestry,
    DeedRow,
    HoldingRow,
    KinRow,
    ReadTransaction,
    StayRow,
)

__all__ = ["MOST_PATHS", "Body", "Told", "read_told"]

MOST_PATHS = 100
"""How many paths an answer gives; it counts the others."""

_DEEDS: tuple[EntryKind, ...] = ("born", "tend", "iron", "weigh", "take", "dispatch")
_WITH_BODY = frozenset({"tend", "iron", "take"})
_CHEESE = frozenset({"wheel", "portion", "trim", "blend"})


class _Heat(msgspec.Struct, frozen=True):
    treatment: MilkTreatment


class Body(msgspec.Struct, frozen=True):
    """What an event says that its entries do not; what else it says is not even read.

    A tending may name a thousand wheels: to read them all would take most of the time.
    """

    type: str
    tool: str | None = None
    holes: int | None = None
    body: int | None = None
    texture: int | None = None
    blueing: int | None = None
    coat: int | None = None
    flavour: int | None = None
    heat: _Heat | None = None
    replacement: "Body | None" = None


_BODY = msgspec.json.Decoder(Body)


class Told(NamedTuple):
    """All that was told of a lot's paths.

    ``ways`` are those from its first lots (wheels, or what is still pending) down to the lot, of
    ``way_count`` in all; ``stays`` and ``deeds`` are by lot, ``bodies`` by ``seq``; ``holdings``
    are of the lot asked about. ``strangers`` went into a blend and were no cheese.
    """

    ancestry: Ancestry
    ways: list[list[int]]
    way_count: int
    stays: dict[int, list[StayRow]]
    deeds: dict[int, list[DeedRow]]
    bodies: dict[int, Body]
    holdings: list[HoldingRow]
    strangers: list[KinRow]
    partner: str | None
    now_us: int

    def make_of(self, first: KinRow) -> KinRow | None:
        """Give the make of a way's first lot, if it is told."""
        parents = (self.ancestry.lots[i] for i, _ in self.ancestry.parents.get(first.id, ()))
        return next((lot for lot in parents if kind_of(lot.kind) == "make"), None)


def read_told(snap: ReadTransaction, caller: Caller, ancestry: Ancestry, now_us: int) -> Told:
    """Read what was told, in a few statements however many lots there are."""
    parents = {child: [p for p, _ in given] for child, given in ancestry.parents.items()}
    firsts = frozenset(
        lot.id
        for lot in ancestry.lots.values()
        if kind_of(lot.kind) == "wheel" or (kind_of(lot.kind) in _CHEESE and lot.id not in parents)
    )
    ways, count = ways_down(ancestry.lot.id, parents, firsts, MOST_PATHS)
    lots = list(dict.fromkeys(lot for way in ways for lot in way))
    stays: dict[int, list[StayRow]] = {}
    deeds: dict[int, list[DeedRow]] = {}
    seqs: set[int] = set()
    if lots:
        for stay in snap.stays(lots):
            stays.setdefault(stay.lot_id, []).append(stay)
        for deed in snap.deeds(lots, _DEEDS):
            deeds.setdefault(deed.lot_id, []).append(deed)
            if deed.kind in _WITH_BODY:
                seqs.add(deed.seq)
    seqs.update(
        lot.born_seq
        for lot in ancestry.lots.values()
        if lot.born_seq is not None and kind_of(lot.kind) == "make"
    )
    return Told(
        ancestry=ancestry,
        ways=ways,
        way_count=count,
        stays=stays,
        deeds=deeds,
        bodies=_bodies(snap, sorted(seqs)),
        holdings=snap.holdings([ancestry.lot.id]),
        strangers=_strangers(ancestry),
        partner=caller.partner if caller.role == "customer" else None,
        now_us=now_us,
    )


def _bodies(snap: ReadTransaction, seqs: Sequence[int]) -> dict[int, Body]:
    found: dict[int, Body] = {}
    for seq, raw in (snap.bodies_at(seqs) if seqs else {}).items():
        body = _BODY.decode(raw)
        found[seq] = body.replacement or body
    return found


def _strangers(ancestry: Ancestry) -> list[KinRow]:
    lots = ancestry.lots
    found = {
        parent
        for child, given in ancestry.parents.items()
        if kind_of(lots[child].kind) != "wheel"
        for parent, _ in given
        if kind_of(lots[parent].kind) not in _CHEESE
    }
    return sorted((lots[lot] for lot in found), key=lambda lot: lot.code)
