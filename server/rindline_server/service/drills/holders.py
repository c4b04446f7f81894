"""Who holds the lots of a drill: our rooms, loads on the way, and each customer."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from rindline_schema.answers import CustomerHolds, DocumentLine, SiteHolds, TransitHolds
from rindline_schema.registers import Partner
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.times import from_us
from rindline_server.ledger.world import Registers
from rindline_server.store import HOLDER_SORTS, HoldingRow, SendingRow, TraceRow

__all__ = ["customers_hold", "in_transit", "on_hand"]

_SITE, _TRANSIT, _PARTNER = (HOLDER_SORTS.index(s) for s in ("site", "transit", "partner"))

_Holdings = Iterable[tuple[TraceRow, HoldingRow]]


@dataclass
class _Sum:
    lots: set[int] = field(default_factory=set)
    count: int = 0
    mass_g: int = 0
    first_us: int = 0
    kind: str = ""

    def add(self, lot_id: int, count: int, mass_g: int) -> None:
        self.lots.add(lot_id)
        self.count += count
        self.mass_g += mass_g


def on_hand(holdings: _Holdings) -> list[SiteHolds]:
    """Sum what lies at our sites, by site and room."""
    sums: dict[tuple[str, str], _Sum] = {}
    for _, row in holdings:
        if row.sort == _SITE:
            sums.setdefault((row.holder, row.room or ""), _Sum()).add(
                row.lot_id, row.count, row.mass_g
            )
    return [
        SiteHolds(site=site, room=room or None, lots=len(s.lots), count=s.count, mass_g=s.mass_g)
        for (site, room), s in sorted(sums.items())
    ]


def in_transit(holdings: _Holdings) -> list[TransitHolds]:
    """Sum what is on the way, by document."""
    sums: dict[tuple[str, str], _Sum] = {}
    for _, row in holdings:
        if row.sort == _TRANSIT:
            sums.setdefault((row.holder, row.to_site or ""), _Sum()).add(
                row.lot_id, row.count, row.mass_g
            )
    return [
        TransitHolds(
            document=document,
            to_site=to_site or None,
            lots=len(s.lots),
            count=s.count,
            mass_g=s.mass_g,
        )
        for (document, to_site), s in sorted(sums.items())
    ]


def customers_hold(
    holdings: _Holdings, sendings: Sequence[SendingRow], registers: Registers, now_us: int
) -> list[CustomerHolds]:
    """Sum what each customer holds, returns taken off, with the documents it went by.

    A customer that sent everything back is listed with nothing: it must be told all the same.
    """
    sums: dict[str, _Sum] = {}
    for _, row in holdings:
        if row.sort == _PARTNER:
            sums.setdefault(row.holder, _Sum()).add(row.lot_id, row.count, row.mass_g)
    documents: dict[str, dict[str, _Sum]] = {}
    for sending in sendings:
        by_number = documents.setdefault(sending.partner, {})
        total = by_number.setdefault(sending.document, _Sum(first_us=sending.at_us))
        total.kind = sending.document_kind
        total.first_us = min(total.first_us, sending.at_us)
        total.add(sending.lot_id, sending.count, sending.mass_g)
    answers = []
    for customer in sorted({*sums, *documents}):
        entry = entry_at(registers, "partner", customer, now_us)
        held = sums.get(customer, _Sum())
        answers.append(
            CustomerHolds(
                customer=customer,
                name=entry.name if isinstance(entry, Partner) else None,
                address=entry.address if isinstance(entry, Partner) else None,
                lots=len(held.lots),
                count=held.count,
                mass_g=held.mass_g,
                documents=_documents(documents.get(customer, {})),
            )
        )
    return answers


def _documents(by_number: dict[str, _Sum]) -> list[DocumentLine]:
    return [
        DocumentLine(
            number=number,
            kind=total.kind,
            dispatched_at=from_us(total.first_us),
            lots=len(total.lots),
            count=total.count,
            mass_g=total.mass_g,
        )
        for number, total in sorted(by_number.items(), key=lambda item: item[1].first_us)
    ]
