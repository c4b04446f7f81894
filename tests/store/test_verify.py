"""The hash chain: any change of the ledger is found, and named by the first seq it touches."""

from contextlib import closing
from random import Random

import pytest
from sqlalchemy import Connection, text

from rindline_server.cli import main
from rindline_server.commands import ExitCode
from rindline_server.service.verify import Verified, verify
from rindline_server.store import Store
from rindline_server.store.chain import EMPTY_LEDGER_HASH, row_hash
from rindline_server.store.migrate import upgrade
from tests.histories.dairy import random_history
from tests.histories.telling import context
from tests.store.databases import rows as rows_of
from tests.store.databases import without_guards
from tests.store.telling import tell

_COLUMNS = (
    "id",
    "replacement_id",
    "station",
    "recorded_us",
    "told_hash",
    "body",
    "answer",
    "hash",
)


@pytest.fixture
def events(store: Store) -> int:
    """The number of events told to the store."""
    history = random_history(41, 120)
    assert tell(store, [*history.setup, *history.events], context(history.until)) == []
    return len(history.setup) + len(history.events)


def _verified(url: str) -> Verified:
    with closing(Store(url)) as store:
        return verify(store, lambda _done, _total: None)


def _changed(value: object, random: Random) -> object:
    """The value with one bit of one byte changed."""
    if value is None:
        return random.randbytes(16)
    if isinstance(value, int):
        return value ^ 1 << random.randrange(40)
    assert isinstance(value, str | bytes)
    data = bytearray(value.encode() if isinstance(value, str) else value)
    # The lowest bit: a letter stays a letter.
    data[random.randrange(len(data))] ^= 1
    return data.decode() if isinstance(value, str) else bytes(data)


def test_an_unharmed_ledger_verifies(database_url: str, events: int) -> None:
    """Nothing is found where nothing was done; the figure given is the head's hash."""
    verified = _verified(database_url)
    assert verified.events == events
    assert verified.fault is None
    assert rows_of(database_url, "SELECT hash FROM head") == [(verified.hash,)]


def test_one_changed_byte_anywhere_is_found_and_located(database_url: str, events: int) -> None:
    """Every column of randomly chosen rows, a single bit of a single byte: the first fault is
    named at that very row. Put back, the ledger verifies again."""
    random = Random(5)
    for column in _COLUMNS:
        for seq in (1, events, *random.sample(range(2, events), 4)):
            ((value,),) = rows_of(database_url, f"SELECT {column} FROM ledger WHERE seq = {seq}")
            _set(database_url, column, seq, _changed(value, random))
            fault = _verified(database_url).fault
            assert fault is not None, (column, seq)
            assert fault.seq == seq, (column, fault)
            _set(database_url, column, seq, value)
    assert _verified(database_url).fault is None


def _set(url: str, column: str, seq: int, value: object) -> None:
    with without_guards(url) as connection:
        connection.execute(
            text(f"UPDATE ledger SET {column} = :value WHERE seq = {seq}"), {"value": value}
        )


def _swap(connection: Connection, one: int, other: int) -> None:
    for old, new in ((one, -1), (other, one), (-1, other)):
        connection.execute(text(f"UPDATE ledger SET seq = {new} WHERE seq = {old}"))


@pytest.mark.parametrize(
    ("harm", "first"),
    [
        (["DELETE FROM ledger WHERE seq = 7"], 7),
        (["DELETE FROM ledger WHERE seq = 1"], 1),
        (["DELETE FROM ledger WHERE seq > 50"], 51),
        (["UPDATE ledger SET seq = -1 WHERE seq = 9"], -1),
        (["UPDATE ledger SET seq = 5000 WHERE seq = 9"], 9),
        (["UPDATE head SET seq = 60"], 61),
        (["UPDATE head SET hash = (SELECT hash FROM ledger WHERE seq = 3)"], None),
        (["UPDATE ledger SET body = (SELECT body FROM ledger WHERE seq = 4) WHERE seq = 5"], 5),
        (
            [
                "UPDATE ledger SET seq = 0 WHERE seq = 20",
                "UPDATE ledger SET seq = 20 WHERE seq = 21",
                "UPDATE ledger SET seq = 21 WHERE seq = 0",
            ],
            20,
        ),
    ],
)
def test_rows_taken_out_moved_or_cut_off_are_found(
    database_url: str, events: int, harm: list[str], first: int | None
) -> None:
    """A row missing at the beginning, within or at the end, rows that changed places, a head that
    points elsewhere: each is named by the first seq where it shows."""
    with without_guards(database_url) as connection:
        for statement in harm:
            connection.execute(text(statement))
    fault = _verified(database_url).fault
    assert fault is not None
    assert fault.seq == (events if first is None else first)


def test_a_value_of_another_type_is_found(store: Store, database_url: str, events: int) -> None:
    """SQLite takes text where bytes should be, and bytes that are no text: neither escapes, nor
    does either keep the walk from ending."""
    if store.dialect != "sqlite":
        pytest.skip("PostgreSQL keeps to the types of its columns")
    for statement in (
        "UPDATE ledger SET body = CAST(body AS TEXT) WHERE seq = 11",
        "UPDATE ledger SET station = x'ff00' WHERE seq = 10",
        "UPDATE ledger SET recorded_us = 'late' WHERE seq = 9",
    ):
        with without_guards(database_url) as connection:
            connection.execute(text(statement))
        fault = _verified(database_url).fault
        assert fault is not None
        assert fault.seq == int(statement.rpartition(" ")[2])


def test_no_two_rows_give_the_same_bytes() -> None:
    """Bytes moved from one column to its neighbour, or a column that is missing rather than
    empty, change the hash."""
    rows: list[list[int | bytes | None]] = [
        [1, b"ab", b"c"],
        [1, b"a", b"bc"],
        [1, b"abc", b""],
        [1, b"abc", None],
        [1, None, b"abc"],
        [1, b"", b"abc"],
        [-1, b"ab", b"c"],
    ]
    digests = {row_hash(EMPTY_LEDGER_HASH, columns) for columns in rows}
    assert len(digests) == 7


def test_the_command_names_the_row(
    database_url: str,
    events: int,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """`rindline-server verify` ends with 0 and the last hash, or with 1 and the seq at fault."""
    monkeypatch.setenv("RINDLINE_DATABASE_URL", database_url)
    assert main(["verify"]) == ExitCode.DONE
    assert _verified(database_url).hash.hex() in capsys.readouterr().out
    _set(database_url, "station", 13, "somebody else")
    upgrade(database_url)
    assert main(["verify"]) == ExitCode.FAILED
    assert "seq 13:" in capsys.readouterr().err


def test_the_command_minds_missing_guards(
    database_url: str,
    events: int,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A ledger that is whole but no longer guarded doesn't pass either."""
    monkeypatch.setenv("RINDLINE_DATABASE_URL", database_url)
    with without_guards(database_url):
        pass
    assert main(["verify"]) == ExitCode.FAILED
    said = capsys.readouterr()
    assert f"{events} events are as they were written" in said.out
    assert "guards are missing" in said.err
