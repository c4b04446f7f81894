"""Many wheels at once: the same as going through every lot's book, by an index of wheels alone."""

from typing import Any

import pytest
from sqlalchemy import Connection, text

from rindline_schema.codes import kind_of_code
from rindline_server.ledger.entries import Entry, EntryKind
from rindline_server.store import Store, WheelFilter
from rindline_server.store.link import Link
from tests.store.conftest import Told
from tests.store.databases import direct


def _wheels(told: Told) -> dict[str, list[Entry]]:
    """The entries of each wheel whose hooping is told, by code."""
    return {
        code: list(book.entries)
        for code, book in told.world.books.items()
        if kind_of_code(code) == "wheel" and book.record.is_born
    }


def _born_us(told: Told, code: str) -> int:
    born_us = told.world.books[code].record.born_us
    assert born_us is not None
    return born_us


def test_the_newest_wheels(told: Told) -> None:
    """Newest first, of a product and a time (from included, until not), and how many in all."""
    codes = sorted(_wheels(told), key=lambda code: (_born_us(told, code), code), reverse=True)
    assert len(codes) > 20
    first, last = _born_us(told, codes[-5]), _born_us(told, codes[4])
    product = told.world.books[codes[0]].record.product
    between = [code for code in codes if first <= _born_us(told, code) < last]
    of_product = [c for c in codes if told.world.books[c].record.product == product]
    with told.store.reading() as snap:
        for which, expected in (
            (WheelFilter(), codes),
            (WheelFilter(from_us=first, before_us=last), between),
            (WheelFilter(product=product), of_product),
            (WheelFilter(product="none"), []),
        ):
            assert [row.code for row in snap.newest_wheels(which, 10_000)] == expected
            assert [row.code for row in snap.newest_wheels(which, 3)] == expected[:3]
            assert snap.count_wheels(which) == len(expected)
        for row in snap.newest_wheels(WheelFilter(), 5):
            record = told.world.books[row.code].record
            assert (row.born_us, row.made_g, row.product) == (
                *(record.born_us, record.made_g, record.product),
            )


def test_the_makes_of_wheels_and_the_wheels_of_makes(told: Told) -> None:
    """Each wheel has the make it was hooped from, and each make those wheels."""
    by_make: dict[str, list[str]] = {}
    for code in sorted(_wheels(told)):
        (make,) = told.world.parents[code]
        by_make.setdefault(make, []).append(code)
    with told.store.reading() as snap:
        ids = snap.lot_ids([*by_make, *_wheels(told)])
        found = snap.makes_of_wheels([ids[code] for code in _wheels(told)])
        assert {ids[w]: make for make, some in by_make.items() for w in some} == found
        for make, codes in by_make.items():
            assert [row.code for row in snap.wheels_of_make(ids[make])] == codes


def test_marks_are_the_entries_in_force(told: Told) -> None:
    """Entries of the kinds asked for and tendings of the tasks asked for, in order of time."""
    every = _wheels(told)
    with told.store.reading() as snap:
        codes = {i: code for code, i in snap.lot_ids(list(every)).items()}
        asked: list[tuple[list[EntryKind], list[str]]] = [
            (["weigh", "iron"], []),
            (["move"], ["pierce", "brush"]),
        ]
        for kinds, tasks in asked:
            found = snap.marks(list(codes), kinds, tasks)
            assert [mark.at_us for mark in found] == sorted(mark.at_us for mark in found)
            expected = [
                (code, e.kind, e.at_us, e.mass_g, e.room, e.partner, e.detail)
                for code, entries in every.items()
                for e in entries
                if e.kind in kinds or (e.kind == "tend" and e.detail in tasks)
            ]
            assert expected
            as_told = [
                (codes[m.lot_id], m.kind, m.at_us, m.mass_g, m.room, m.partner, m.detail)
                for m in found
            ]
            assert sorted(as_told, key=repr) == sorted(expected, key=repr)


def test_turnings_until_the_last_ironing(told: Told) -> None:
    """Turnings count until the wheel was ironed for the last time, all of them if it never was."""
    expected = {}
    for code, entries in _wheels(told).items():
        last = max((e.at_us for e in entries if e.kind == "iron"), default=2**62)
        turns = [e for e in entries if e.kind == "tend" and e.detail == "turn"]
        counted = sum(e.at_us <= last for e in turns)
        if counted:
            expected[code] = counted
    assert expected
    with told.store.reading() as snap:
        ids = snap.lot_ids(list(_wheels(told)))
        found = snap.turnings(list(ids.values()))
    assert found == {ids[code]: count for code, count in expected.items()}


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, list[object]]]:
    """Every statement that is asked from here on, with its parameters."""
    found: list[tuple[str, list[object]]] = []
    for name in ("rows", "row"):
        plain = getattr(Link, name)

        def noted(
            self: Link, statement: str, parameters: list[object] | None = None, plain: Any = plain
        ) -> object:
            found.append((statement, list(parameters or ())))
            return plain(self, statement, list(parameters or ()))

        monkeypatch.setattr(Link, name, noted)
    return found


def _plan(connection: Connection, statement: str, parameters: list[object]) -> str:
    """How a database would go about a statement; PostgreSQL is to avoid walking whole tables."""
    sqlite = connection.dialect.name == "sqlite"
    words = {"{any_big}": "IN (SELECT value FROM json_each(?))" if sqlite else "= ANY(?::bigint[])"}
    for word, meaning in words.items():
        statement = statement.replace(word, meaning)
    for value in parameters:
        statement = statement.replace("?", repr(value), 1)
    if not sqlite:
        connection.execute(text("SET enable_seqscan = off"))
        connection.execute(text("SET enable_bitmapscan = off"))
    explain = "EXPLAIN QUERY PLAN" if sqlite else "EXPLAIN"
    steps = connection.exec_driver_sql(f"{explain} {statement}")
    return " ".join(str(row[-1]) for row in steps)


@pytest.mark.parametrize("product", [None, "BLUE"])
def test_the_newest_wheels_are_found_by_their_index(
    store: Store,
    database_url: str,
    asked: list[tuple[str, list[object]]],
    product: str | None,
) -> None:
    """However many lots and years there are, the newest wheels are read off the index of wheels,
    from its end on, and counted by it."""
    which = WheelFilter(product=product, from_us=1, before_us=2)
    with store.reading() as snap:
        snap.newest_wheels(which, 5)
        snap.count_wheels(which)
    asked = [one for one in asked if "FROM lots l" in one[0]]
    assert len(asked) == 2
    with direct(database_url) as connection:
        for statement, parameters in asked:
            plan = _plan(connection, statement, parameters)
            assert "FOR ORDER BY" not in plan
            assert "Incremental" in plan or "Sort" not in plan
            if connection.dialect.name == "sqlite":
                name = "ix_lots_wheels_of_product" if product else "ix_lots_wheels"
                assert f"USING INDEX {name} " in plan or f"COVERING INDEX {name} " in plan
            else:
                # Where there is nothing, it has no reason to prefer one of the two.
                assert "using ix_lots_wheels" in plan


def test_turnings_are_counted_in_one_walk(
    store: Store, database_url: str, asked: list[tuple[str, list[object]]]
) -> None:
    """The entries of each wheel are read once: no loop within a loop, which takes minutes for a
    thousand wheels."""
    with store.reading() as snap:
        snap.turnings([1, 2, 3])
    with direct(database_url) as connection:
        plan = _plan(connection, *asked[-1])
    assert "Nested Loop" not in plan
    assert plan.count("on entries") + plan.count("SEARCH entries") == 1
