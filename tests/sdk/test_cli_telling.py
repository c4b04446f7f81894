"""Telling a file of events from the command line."""

import io
import sys
from pathlib import Path

import msgspec
import pytest

from rindline import EventMaker
from rindline.testing import FakeClock, FakeServer
from rindline_schema.answers import (
    BatchAnswer,
)
from rindline_schema.events import Event, NewWheel
from rindline_schema.problems import Problem, make_problem
from tests.sdk.command_runs import Run, has_row
from tests.sdk.samples import (
    MAKE,
    WHEEL,
)

MAKER = EventMaker(FakeClock())


def _weighings(count: int) -> list[Event]:
    return [MAKER.weigh(lot=WHEEL, mass_g=2000 + number) for number in range(count)]


def _write(folder: Path, form: str, events: list[Event]) -> str:
    file = folder / f"events.{form}"
    encoded = [msgspec.json.encode(event) for event in events]
    match form:
        case "object":
            # Over several lines, as people write it.
            file.write_bytes(msgspec.json.format(encoded[0], indent=2))
        case "array":
            file.write_bytes(msgspec.json.encode(events))
        case "ndjson":
            file.write_bytes(b"\n".join(encoded) + b"\n\n")
    return str(file)


@pytest.mark.parametrize(("form", "count"), [("object", 1), ("array", 3), ("ndjson", 3)])
def test_a_file_of_events_is_told(
    run: Run, server: FakeServer, tmp_path: Path, form: str, count: int
) -> None:
    """An object, an array, lines: recorded in order, each outcome in the table; again is safe."""
    events = _weighings(count)
    file = _write(tmp_path, form, events)
    ran = run("tell", file)
    assert (ran.code, ran.err) == (0, "")
    assert [recorded.event for recorded in server.told] == events
    assert has_row(ran.out, "1", "weigh", str(events[0].id), "recorded", "1")
    assert f"{count} recorded, 0 recorded before, 0 refused" in ran.out
    again = run("tell", file)
    assert f"0 recorded, {count} recorded before, 0 refused" in again.out
    assert len(server.told) == count


def test_given_codes_are_in_the_outcome(run: Run, server: FakeServer, tmp_path: Path) -> None:
    """Whoever must stamp the wheel reads its code here."""
    event = MAKER.hoop(make=MAKE, product="QB", room="DRAIN", wheels=[NewWheel(mass_g=2400)])
    ran = run("tell", _write(tmp_path, "object", [event]))
    assert has_row(ran.out, "hoop", "recorded", f"/wheels/0/lot is {next(iter(server.lots))}")


def test_standard_input_is_read(
    run: Run, server: FakeServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """``-`` reads what another program writes."""
    stdin = io.TextIOWrapper(io.BytesIO(msgspec.json.encode(_weighings(2))))
    monkeypatch.setattr(sys, "stdin", stdin)
    assert run("tell", "-").code == 0
    assert len(server.told) == 2


def test_a_refused_event_shows_and_counts(run: Run, server: FakeServer, tmp_path: Path) -> None:
    """Exit code 1; of many outcomes only those to look at are listed, with what to do."""
    events = _weighings(60)
    server.refuse_when(lambda event: _held() if event.id == events[41].id else None)
    ran = run("tell", _write(tmp_path, "ndjson", events))
    assert ran.code == 1
    assert has_row(ran.out, "42", "weigh", "refused: lot_held", "it is on hold", "Have it released")
    assert str(events[0].id) not in ran.out
    assert "59 recorded, 0 recorded before, 1 refused" in ran.out


def _held() -> Problem:
    return make_problem("lot_held", "it is on hold", lot=WHEEL)


def test_all_or_nothing_and_trying(run: Run, server: FakeServer, tmp_path: Path) -> None:
    """--all-or-nothing records none beside a refused one; --try records none at all."""
    events = _weighings(2)
    file = _write(tmp_path, "array", events)
    ran = run("tell", file, "--try")
    assert ran.code == 0
    assert "2 would be recorded, 0 recorded before, 0 refused" in ran.out
    assert server.told == []
    server.refuse_when(lambda event: _held() if event.id == events[1].id else None)
    ran = run("tell", file, "--all-or-nothing", "--json")
    answer = msgspec.json.decode(ran.out, type=BatchAnswer)
    assert (ran.code, answer.recorded, answer.refused) == (1, 0, 2)
    assert server.told == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"type": "weigh"}', "the event: Object missing required field `id`"),
        ('[{"type": "weigh"}]', "event 1: "),
        ('{"a": 1}\n{"b": 2}', "line 1: "),
        ("[1, 2", "not an array of events"),
        ("[]", "holds no events"),
        ("  \n", "holds no events"),
    ],
)
def test_a_file_that_holds_no_events_is_not_told(
    run: Run, server: FakeServer, tmp_path: Path, text: str, said: str
) -> None:
    """The place is named, nothing is sent, exit code 2."""
    file = tmp_path / "wrong.json"
    file.write_text(text)
    ran = run("tell", str(file))
    assert ran.code == 2
    assert said in ran.err
    assert server.requests == []


def test_one_bad_line_keeps_the_whole_file_back(
    run: Run, server: FakeServer, tmp_path: Path
) -> None:
    """A file is told whole or not at all as far as its form goes: its good lines wait, too."""
    file = Path(_write(tmp_path, "ndjson", _weighings(3)))
    file.write_bytes(file.read_bytes().rstrip(b"\n") + b"\n{oops\n")
    ran = run("tell", str(file))
    assert (ran.code, "line 4: " in ran.err) == (2, True)
    assert server.requests == []
