"""Folding the ledger from zero gives the very tables that are there."""

from contextlib import closing

import pytest
from sqlalchemy import text

from rindline_schema.events import Correct
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.cli import main
from rindline_server.commands import ExitCode
from rindline_server.service import rebuild as rebuilding
from rindline_server.service.rebuild import Difference, Rebuilt, rebuild
from rindline_server.store import Store
from rindline_server.store.tables import DERIVED
from tests.histories.dairy import random_history
from tests.histories.telling import context
from tests.store.conftest import Told
from tests.store.databases import direct, rows, table_rows
from tests.store.telling import tell, tell_until_all_stand


def _rebuilt(store: Store, *, check: bool) -> Rebuilt:
    return rebuild(store, ScaleTolerance(), lambda _done, _total: None, check=check)


def test_rebuilding_changes_nothing(told: Told, database_url: str) -> None:
    """Every derived table comes out as it was, row by row, numbers of lots included, and so does
    the head; what follows can still be told."""
    before = table_rows(database_url)
    assert [name for name, found in before.items() if not found] == []
    head = rows(database_url, "SELECT * FROM head")
    for check in (True, False):
        assert _rebuilt(told.store, check=check).differences == []
        assert table_rows(database_url) == before
        assert rows(database_url, "SELECT * FROM head") == head
    assert tell(told.store, told.history.events[:3], told.context) == []


def test_rebuilding_what_was_told_in_any_order(
    store: Store, database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where corrections were told long before what they correct, so that the two are folded
    in different lots of work: what was told later is not known sooner."""
    history = random_history(71, 300)
    corrections = [e for e in history.events if isinstance(e, Correct)]
    others = [e for e in history.events if not isinstance(e, Correct)]
    assert len(corrections) > 10
    now = context(history.until)
    tell_until_all_stand(store, [*history.setup, *corrections, *others], now, 50)
    before = table_rows(database_url)
    monkeypatch.setattr(rebuilding, "_EVENTS_AT_A_TIME", 7)
    assert _rebuilt(store, check=False).differences == []
    assert table_rows(database_url) == before


@pytest.mark.parametrize("table", [table.name for table in DERIVED])
def test_a_table_that_was_tampered_with_is_named_and_put_right(
    told: Told, database_url: str, table: str
) -> None:
    """One row lost in any derived table: a check names that table alone and changes nothing,
    a rebuild puts the row back."""
    before = table_rows(database_url)
    columns = next(t for t in DERIVED if t.name == table).primary_key.columns.keys()
    key = ", ".join(columns)
    with direct(database_url) as connection:
        connection.execute(
            text(
                f"DELETE FROM {table} WHERE ({key}) IN "
                f"(SELECT {key} FROM {table} ORDER BY {key} LIMIT 1)"
            )
        )
    harmed = table_rows(database_url)
    had = len(before[table])
    assert len(harmed[table]) == had - 1
    wanted = [Difference(table, had - 1, had)]
    # A store of its own: what the first one keeps of the registers was read before.
    with closing(Store(database_url)) as store:
        assert _rebuilt(store, check=True).differences == wanted
        assert table_rows(database_url) == harmed
        assert _rebuilt(store, check=False).differences == wanted
    assert table_rows(database_url) == before


def test_a_changed_figure_is_found(told: Told, database_url: str) -> None:
    """Not only rows that are missing: a gram more in one lot shows as well, and so does a number
    that would be given to the next lot."""
    with direct(database_url) as connection:
        connection.execute(text("UPDATE lots SET ours_g = ours_g + 1 WHERE id = 3"))
        connection.execute(text("UPDATE head SET next_lot_id = next_lot_id + 1"))
    differences = _rebuilt(told.store, check=False).differences
    assert [difference.table for difference in differences] == ["lots", "head"]
    assert _rebuilt(told.store, check=True).differences == []


def test_the_command_says_what_differs(
    told: Told,
    database_url: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """`rindline-server rebuild --check` ends with 1 if a table differs and leaves it; without
    `--check` it puts it right and ends with 0."""
    monkeypatch.setenv("RINDLINE_DATABASE_URL", database_url)
    with direct(database_url) as connection:
        connection.execute(text("DELETE FROM stays"))
    assert main(["rebuild", "--check"]) == ExitCode.FAILED
    assert "stays differs: 0 rows" in capsys.readouterr().err
    assert main(["rebuild"]) == ExitCode.DONE
    assert main(["rebuild", "--check"]) == ExitCode.DONE
    assert "very tables" in capsys.readouterr().out
