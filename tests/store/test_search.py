"""Searching lots and discrepancies: the conditions, and pages that neither skip nor repeat."""

from collections.abc import Callable
from typing import Any

import pytest

from rindline_schema.codes import kind_of_code
from rindline_schema.events import Settle
from rindline_server.ledger.times import to_us
from rindline_server.store import LOT_KINDS, LOT_STATES, LotFilter, LotRow
from tests.store.conftest import Told

_DAY_US = 86_400_000_000


def _conditions(told: Told) -> list[tuple[dict[str, Any], Callable[[LotRow], bool]]]:
    """Conditions of a search, each with what it means for a row."""
    middle = to_us(told.history.events[len(told.history.events) // 2].at)
    return [
        ({}, lambda row: row.id > 0),
        ({"kind": "wheel"}, lambda row: LOT_KINDS[row.kind] == "wheel"),
        ({"product": "WEDGE"}, lambda row: row.product == "WEDGE"),
        ({"site": "QC"}, lambda row: row.site == "QC"),
        ({"site": "QM"}, lambda row: row.code.startswith("QM")),
        ({"state": "with_partners"}, lambda row: LOT_STATES[row.state] == "with_partners"),
        ({"made_from_us": middle}, lambda row: (row.born_us or 0) >= middle),
        ({"made_before_us": middle}, lambda row: row.born_us is not None and row.born_us < middle),
        ({"prefix": "QM2600"}, lambda row: row.code.startswith("QM2600")),
        (
            {"kind": "portion", "state": "on_hand", "site": "QC", "product": "HALF"},
            lambda row: (
                (row.kind, row.state, row.site, row.product)
                == (LOT_KINDS.index("portion"), LOT_STATES.index("on_hand"), "QC", "HALF")
            ),
        ),
    ]


def test_searches_find_what_fits(told: Told) -> None:
    """Each condition, and some together, give just the lots that fit, in order of their codes."""
    empty = 0
    with told.store.reading() as snap:
        every = snap.find_lots(LotFilter(), None, 10_000)
        assert {row.code for row in every} == {
            lot for lot, book in told.world.books.items() if book.entries
        }
        for fields, fits in _conditions(told):
            found = snap.find_lots(LotFilter(**fields), None, 10_000)
            assert found == sorted(filter(fits, every), key=lambda row: row.code), fields
            empty += not found
    assert empty <= 2


@pytest.mark.parametrize("limit", [1, 7, 1000])
def test_pages_follow_on_one_another(told: Told, limit: int) -> None:
    """Page by page it is the same list as in one go, whatever the size of a page."""
    which = LotFilter(site="QM")
    with told.store.reading() as snap:
        wanted = snap.find_lots(which, None, 10_000)
        found: list[LotRow] = []
        while page := snap.find_lots(which, found[-1].code if found else None, limit):
            assert len(page) <= limit
            found += page
    assert found == wanted
    assert len(found) > 50


def test_discrepancies_open_and_settled(told: Told) -> None:
    """What does not fit together is listed with its lot, and with the finding once there is one;
    a page goes on where the one before ended."""
    settled = {e.discrepancy: e.finding for e in told.history.events if isinstance(e, Settle)}
    with told.store.reading() as snap:
        every = snap.discrepancies(None, 1000)
        assert [d.id for d in every] == sorted(d.id for d in every)
        assert {(d.lot, d.kind, d.event) for d in every} == {
            (lot, found.kind, found.event)
            for lot, book in told.world.books.items()
            for found in book.record.found
        }
        for discrepancy in every:
            assert discrepancy.finding == settled.get(discrepancy.id)
        with_finding = snap.discrepancies(None, 1000, settled=True)
        without = snap.discrepancies(None, 1000, settled=False)
        assert with_finding == [d for d in every if d.finding is not None]
        assert without == [d for d in every if d.finding is None]
        assert with_finding
        first = snap.discrepancies(None, 1)
        assert first + snap.discrepancies(first[0].id, 1000) == every
        (lot_id,) = snap.lot_ids([every[0].lot]).values()
        of_lot = snap.discrepancies(None, 1000, lots=[lot_id])
        assert of_lot == [d for d in every if d.lot == every[0].lot]


def test_sums_and_sendings_are_those_of_the_record(told: Told) -> None:
    """The sums over all lots by kind, and what left for partners by document, agree with the
    records; every gram that was made is in one of the sums or with a holder."""
    records = {lot: b.record for lot, b in told.world.books.items() if b.entries}
    with told.store.reading() as snap:
        ids = snap.lot_ids(list(records))
        names = {number: lot for lot, number in ids.items()}
        sums = snap.balances(list(ids.values()))
        assert sum(row.lots for row in sums) == len(records)
        assert sum(row.made_g for row in sums) == sum(r.made_g for r in records.values())
        for row in sums:
            of_kind = [r for lot, r in records.items() if kind_of_code(lot) == LOT_KINDS[row.kind]]
            assert row.into_g == sum(r.into_g for r in of_kind)
            assert row.unaccounted_g == sum(r.unaccounted_g for r in of_kind)
            assert row.pending == sum(not r.is_born for r in of_kind)
        held_g = sum(holding.mass_g for holding in snap.holdings(list(ids.values())))
        assert sum(row.made_g for row in sums) == held_g + sum(sum(row[4:]) for row in sums)
        sent = snap.sendings(list(ids.values()))
        assert [s.at_us for s in sent] == sorted(s.at_us for s in sent)
        assert {(names[s.lot_id], s.document, s.partner, s.mass_g) for s in sent} == {
            (lot, s.document, s.partner, s.mass_g)
            for lot, record in records.items()
            for s in record.sent
            if s.partner is not None
        }
        assert len(sent) > 10
