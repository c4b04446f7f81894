"""``rindline readings``: a logger's file into the record, a logger's outbox by hand."""

import json
from datetime import timedelta
from io import BytesIO, TextIOWrapper
from pathlib import Path

import pytest

from rindline.outbox import Outbox, ReadingOutbox
from rindline.testing import FakeServer
from rindline_schema.answers import ReadingsAnswer
from tests.sdk.air_samples import STUCK
from tests.sdk.command_runs import Run, has_row
from tests.sdk.samples import AT

FILE = """Serial 20394857
Date/Time,Temp,RH
2026-02-03 06:30,11.25,91.5
2026-02-03 06:35,Err,91.5
2026-02-03 06:40,11.5,92
"""
HOW = ("--time", "Date/Time", "--temperature", "Temp", "--humidity", "RH", "--skip", "1")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "export.csv"
    path.write_text(FILE, "utf-8")
    return path


@pytest.fixture
def outbox(tmp_path: Path) -> Path:
    """An outbox with three readings, the second of which tells other values than the first."""
    path = tmp_path / "readings.db"
    with ReadingOutbox(path) as kept:
        for temperature_c in (11.0, 12.0):
            kept.read("S-1", at=AT, temperature_c=temperature_c)
        kept.read("S-1", at=AT + timedelta(minutes=5), humidity_pct=90.0)
    return path


def test_a_dry_run_shows_rows_as_understood_and_tells_nothing(
    run: Run, server: FakeServer, file: Path
) -> None:
    """Time with the offset it would be told with, figures, and the row that is none."""
    ran = run(
        "readings", "import", str(file), *HOW, "--sensor", "s-1", "--zone", "+01:00", "--dry-run"
    )
    assert ran.code == 1
    assert has_row(ran.out, "3", "S-1", "2026-02-03 06:30:00+01:00", "11.25", "91.5")
    assert has_row(ran.out, "4", "temperature 'Err' is not a number", "Err,91.5")
    assert "2 rows understood, 1 not; nothing was told" in ran.out
    assert server.requests == []


def test_an_import_tells_the_good_rows_and_names_the_others(
    run: Run, server: FakeServer, file: Path
) -> None:
    """Exit code 1 as long as a row is not understood; told again, nothing is doubled."""
    how = ("readings", "import", str(file), *HOW, "--sensor", "S-1", "--zone", "CET")
    ran = run(*how)
    assert ran.code == 1
    assert "3 rows: 2 recorded, 0 recorded before, 0 refused, 1 not understood" in ran.out
    assert [reading.temperature_c for reading in server.readings] == [11.25, 11.5]
    assert server.readings[0].at == AT
    assert "0 recorded, 2 recorded before" in run(*how).out
    file.write_text(FILE.replace("Err", "12"), "utf-8")
    assert run(*how).code == 0


def test_a_refused_reading_is_named_by_its_line(run: Run, server: FakeServer, file: Path) -> None:
    """The server's index is turned into the line of the file, past rows that were none."""
    how = ("readings", "import", str(file), *HOW, "--sensor", "S-1", "--zone", "+01:00")
    run(*how)
    file.write_text(FILE.replace("11.5,", "13.5,"), "utf-8")
    ran = run(*how)
    assert ran.code == 1
    assert has_row(ran.out, "5", "reading_differs")
    said = json.loads(run(*how, "--json").out)
    assert [one["line"] for one in said["refused"]] == [5]
    assert [one["line"] for one in said["bad"]] == [4]
    assert (said["rows"], said["recorded"], said["repeated"]) == (3, 0, 1)


def test_doubts_are_shown(run: Run, server: FakeServer, file: Path) -> None:
    """What is hard to believe is kept, and a person is told."""
    server.answer("tell_readings", ReadingsAnswer(recorded=2, repeated=0, doubts=[STUCK]))
    ran = run("readings", "import", str(file), *HOW, "--sensor", "S-1", "--zone", "+01:00")
    assert has_row(ran.out, "S-2", "stuck", "2026-02-08 06:30+01:00", "showed 9.4 for 24 hours")


def test_a_file_comes_by_standard_input(
    run: Run, server: FakeServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With - as its name; sensors from a column, with names turned into codes."""
    text = "2026-02-03T06:30+01:00;11,25;by the door\n"
    monkeypatch.setattr("sys.stdin", TextIOWrapper(BytesIO(text.encode())))
    ran = run(
        "readings",
        *("import", "-", "--no-header", "--time", "1", "--temperature", "2", "--delimiter", ";"),
        *("--decimal-comma", "--sensor-column", "3", "--sensor-is", "by the door=s-2"),
    )
    assert ran.code == 0
    [reading] = server.readings
    assert (reading.sensor, reading.temperature_c) == ("S-2", 11.25)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--sensor", "S-1", "--temperature", "Tmp"), "no column 'Tmp'"),
        (("--sensor", "S-1", "--zone", "Nowhere/Quillmere"), "no time zone"),
        (("--sensor", "S-1", "--skip", "5"), "no line for a header"),
        (("--sensor", "S-1", "--skip", "4", "--no-header"), "give its number"),
    ],
)
def test_a_mapping_that_does_not_fit_is_wrong_usage(
    run: Run, server: FakeServer, file: Path, more: tuple[str, ...], said: str
) -> None:
    """Exit code 2, with what is there; nothing is told."""
    ran = run("readings", "import", str(file), *HOW, *more)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert server.requests == []


@pytest.mark.parametrize(
    "arguments",
    [
        ("import", "export.csv", "--time", "1", "--temperature", "2"),
        ("import", "export.csv", "--sensor", "S-1", "--temperature", "2"),
        ("import", "x", "--time", "1", "--sensor", "S-1", "--sensor-column", "2"),
        ("import", "x", "--time", "1", "--sensor-column", "2", "--sensor-is", "door"),
        (),
    ],
)
def test_what_is_missing_is_said_by_usage(run: Run, arguments: tuple[str, ...]) -> None:
    """No sensor, no time, two sensors, a name without a code, no action: argparse says it."""
    with pytest.raises(SystemExit) as caught:
        run("readings", *arguments)
    assert caught.value.code == 2


def test_a_file_that_is_not_there_is_wrong_usage(run: Run, tmp_path: Path) -> None:
    """For an import and for an outbox; no empty outbox is made of a mistyped name."""
    missing = tmp_path / "none.db"
    ran = run("readings", "import", str(missing), *HOW, "--sensor", "S-1")
    assert (ran.code, "cannot be read" in ran.err) == (2, True)
    ran = run("readings", "status", str(missing))
    assert (ran.code, "There is no outbox" in ran.err) == (2, True)
    assert not missing.exists()


def test_an_outbox_is_looked_at_and_sent(run: Run, server: FakeServer, outbox: Path) -> None:
    """Depth and age before; afterwards the refused one with its reason, until it is dropped."""
    ran = run("readings", "status", str(outbox))
    assert ran.code == 0
    for cells in (("Queued", "3"), ("Oldest", "0 h"), ("Sending", "no process")):
        assert has_row(ran.out, *cells)
    ran = run("readings", "send", str(outbox))
    assert ran.code == 1
    assert has_row(ran.out, "S-1", "2026-02-03 06:30+01:00", "12", "reading_differs")
    assert len(server.readings) == 2
    assert run("readings", "retry", str(outbox)).out == "1 queued again\n"
    status = json.loads(run("readings", "--json", "status", str(outbox)).out)
    assert (status["queued"], status["set_aside"]) == (1, 0)
    assert run("readings", "send", str(outbox)).code == 1
    assert json.loads(run("readings", "drop", str(outbox), "--json").out) == {"dropped": 1}
    assert run("readings", "status", str(outbox)).code == 0


def test_what_cannot_be_sent_gives_an_exit_code_of_its_own(
    run: Run, server: FakeServer, outbox: Path
) -> None:
    """Exit code 5 if something is still queued, with the reason."""
    server.lose_next_request(10_000)
    ran = run("readings", "send", str(outbox), "--timeout", "0.2")
    assert ran.code == 5
    assert has_row(ran.out, "Last error", "did not get the request")


def test_a_file_of_events_is_no_outbox_of_readings(run: Run, tmp_path: Path) -> None:
    """The two sorts are told apart by the file itself."""
    path = tmp_path / "events.db"
    Outbox(path).close()
    ran = run("readings", "status", str(path))
    assert ran.code == 5
    assert "is not an outbox of readings" in ran.err


def test_many_bad_rows_are_counted_and_the_first_shown(run: Run, tmp_path: Path) -> None:
    """A wrong mapping does not flood the screen; --json has every row."""
    path = tmp_path / "wrong.csv"
    path.write_text("Date/Time,Temp,RH\n" + "yesterday,11,90\n" * 500, "utf-8")
    how = ("readings", "import", str(path), *HOW[:6], "--sensor", "S-1")
    ran = run(*how)
    assert ran.code == 1
    assert "and 480 more; --json lists all" in ran.out
    assert len(json.loads(run(*how, "--json").out)["bad"]) == 500
