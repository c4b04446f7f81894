"""Transactions: one writer, snapshots that stand still, nothing half written."""

import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager

import pytest
from sqlalchemy import text

from rindline_server.store import LedgerRow, LotFilter, Store, StoreBusyError, WriteTransaction
from rindline_server.store.writing import DerivedMismatchError
from tests.histories.dairy import random_history
from tests.histories.telling import context
from tests.store.databases import direct, rows, table_rows
from tests.store.telling import RECORDED_US, batches, tell

_HISTORY = random_history(61, 150)
_NOW = context(_HISTORY.until)
_EVENTS = [*_HISTORY.setup, *_HISTORY.events]


class _StoppedError(Exception):
    """What stops a transaction in the middle in these tests."""


def _row(seq: int, number: int) -> LedgerRow:
    return LedgerRow(
        seq=seq,
        id=f"01900000-0000-7000-8000-{number:012d}",
        replacement_id=None,
        station="scale",
        recorded_us=RECORDED_US,
        told_hash=bytes(32),
        body=b"{}",
        answer=b"{}",
    )


@pytest.fixture
def other(database_url: str) -> Iterator[Store]:
    """A second server on the same database, which does not wait for long."""
    with closing(Store(database_url, readers=2, wait_s=0.2)) as other:
        yield other


def test_an_error_leaves_nothing_behind(
    store: Store, database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error once all rows are written but not committed takes all of them back: ledger, head
    and derived tables. Then the same events can be told."""
    assert tell(store, _EVENTS[:60], _NOW) == []
    before = table_rows(database_url), rows(database_url, "SELECT * FROM head")

    def stop(_: WriteTransaction) -> None:
        raise _StoppedError

    with monkeypatch.context() as patched:
        patched.setattr(WriteTransaction, "finish", stop)
        with pytest.raises(_StoppedError):
            tell(store, _EVENTS[60:], _NOW)
    assert (table_rows(database_url), rows(database_url, "SELECT * FROM head")) == before
    assert rows(database_url, "SELECT max(seq) FROM ledger") == [(60,)]
    assert tell(store, _EVENTS[60:], _NOW) == []
    assert store.head().seq == len(_EVENTS)


def test_a_cancelled_transaction_leaves_nothing_behind(store: Store) -> None:
    """What was only tried out is not kept, though no error ended it."""
    with store.writing() as tx:
        tx.append([_row(1, 1)])
        assert tx.head.seq == 1
        tx.cancel()
    assert store.head() == (0, bytes(32))


def test_seqs_go_on_from_the_head(store: Store) -> None:
    """A row whose seq would leave a gap, or come twice, is refused before anything is written."""
    for wrong in (0, 2):
        with pytest.raises(ValueError, match="does not follow"), store.writing() as tx:
            tx.append([_row(wrong, 1)])
    with store.writing() as tx:
        tx.append([_row(1, 1), _row(2, 2)])
    assert store.head().seq == 2


def test_a_snapshot_stands_still(store: Store) -> None:
    """A reader sees one state from its first question to its last, while the writer goes on, and
    the writer doesn't wait for it; a reader that begins later sees all that was committed."""
    tell(store, _EVENTS[:80], _NOW)
    with store.reading() as snap:
        before = snap.find_lots(LotFilter(), None, 1000), snap.feed(0, 1000), snap.registers
        for some in batches(_EVENTS[80:], 20):
            tell(store, some, _NOW)
        after = snap.find_lots(LotFilter(), None, 1000), snap.feed(0, 1000), snap.registers
        assert after == before
        assert (snap.as_of, len(snap.feed(0, 1000))) == (80, 80)
    with store.reading() as snap:
        assert snap.as_of == len(snap.feed(0, 1000)) == len(_EVENTS)
        assert len(snap.find_lots(LotFilter(), None, 1000)) > len(before[0])


def test_a_reader_begins_where_it_begins(store: Store) -> None:
    """A snapshot is of the moment it was opened, not of its first question."""
    with closing(store.snapshot()) as snap:
        tell(store, _EVENTS, _NOW)
        assert snap.as_of == 0
        assert snap.find_lots(LotFilter(), None, 10) == []


def test_readers_cannot_write(store: Store) -> None:
    """A reader's connection refuses to change anything, whatever the code above it does."""
    with store.reading() as snap, pytest.raises(Exception, match=r"read-?only"):
        snap._link.run("UPDATE head SET seq = 5 WHERE id = 1")
    assert store.head().seq == 0


def test_only_one_writes_at_a_time(store: Store, other: Store) -> None:
    """While one server holds the head's lock, another can't write, and says after a while that
    it is busy; readers are not held up. When the lock is free, it writes."""
    with store.writing() as tx:
        tx.append([_row(1, 1)])
        with pytest.raises(StoreBusyError) as caught, other.writing():
            pass
        assert other.is_busy(caught.value)
        assert other.head().seq == 0
        with other.reading() as snap:
            assert snap.as_of == 0
    with other.writing() as tx:
        assert tx.head.seq == 1
        tx.append([_row(2, 2)])
    assert store.head().seq == 2


def test_servers_that_write_at_once_lose_nothing(store: Store, database_url: str) -> None:
    """Four servers tell rows at the same time, each from the head it finds: no gap, none twice,
    and the chain holds."""
    failures: list[BaseException] = []
    start = threading.Barrier(4)

    def work(name: int) -> None:
        try:
            with closing(Store(database_url, readers=1, wait_s=60)) as mine:
                start.wait()
                for i in range(15):
                    with mine.writing() as tx:
                        tx.append([_row(tx.head.seq + 1, name * 1000 + i)])
        except BaseException as error:  # noqa: BLE001 — shown by the test's own thread
            failures.append(error)

    threads = [threading.Thread(target=work, args=(name,)) for name in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert store.head().seq == 60
    with store.reading() as snap:
        assert [row.seq for row in snap.feed(0, 1000)] == list(range(1, 61))
        assert snap.first_fault(lambda _: None) is None


def test_too_many_readers_are_told_that_it_is_busy(other: Store) -> None:
    """When every connection is taken, one more caller is not left waiting for ever; a connection
    given back is free for the next, also when it is given back twice."""
    first, second = other.snapshot(), other.snapshot()
    with pytest.raises(StoreBusyError):
        other.snapshot()
    first.close()
    first.close()
    with closing(other.snapshot()), pytest.raises(StoreBusyError):
        other.snapshot()
    second.close()


def test_derived_rows_that_are_missing_stop_the_writer(store: Store, database_url: str) -> None:
    """If what should go out of force isn't there, nothing is written: the tables must be rebuilt
    first."""
    wrong = next(e for e in _HISTORY.events if e.__struct_config__.tag == "correct")
    before = _EVENTS[: _EVENTS.index(wrong)]
    assert tell(store, before, _NOW) == []
    with store.writing() as tx:
        world = tx.load([wrong], _NOW.tolerance)
    assert world.recorded
    with direct(database_url) as connection:
        connection.execute(text("DELETE FROM entries"))
    with pytest.raises(DerivedMismatchError):
        tell(store, [wrong], _NOW)
    assert store.head().seq == len(before)


@contextmanager
def _broken(database_url: str) -> Iterator[None]:
    """End every other connection to a PostgreSQL database, as a restart does."""
    with direct(database_url) as connection:
        connection.execute(
            text(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
        )
    yield


@pytest.mark.parametrize(
    "ask",
    [
        lambda store: store.head().seq,
        lambda store: store.list_keys(),
        lambda store: store.snapshot().close(),
        lambda store: tell(store, _EVENTS, _NOW),
    ],
    ids=["head", "keys", "snapshot", "tell"],
)
def test_a_restarted_database_is_met_again(
    store: Store, database_url: str, ask: Callable[[Store], object]
) -> None:
    """Connections that died in the pool, as when the database was restarted, are replaced: the
    next question is answered as if nothing had been."""
    if store.dialect == "sqlite":
        pytest.skip("a file has no server that could restart")
    ask(store)
    # Several connections lie in the pool.
    for snap in [store.snapshot() for _ in range(4)]:
        snap.close()
    with _broken(database_url):
        ask(store)
        ask(store)


def test_a_connection_that_dies_in_use_is_not_used_again(store: Store, database_url: str) -> None:
    """An error in the middle of a transaction reaches the caller; the next one works."""
    if store.dialect == "sqlite":
        pytest.skip("a file has no server that could go away")
    with pytest.raises(Exception, match="terminat"), store.writing() as tx, _broken(database_url):
        tx.append([_row(1, 1)])
    assert store.head().seq == 0
    assert tell(store, _EVENTS, _NOW) == []
