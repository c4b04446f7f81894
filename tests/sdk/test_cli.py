"""The command line as people call it: arguments in, text and exit codes out."""

import io
import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple
from uuid import UUID

import httpx
import msgspec
import pytest
import respx

from rindline import EventMaker, Request
from rindline.cli import main
from rindline.cli._exits import EXIT_CODES
from rindline.cli._figures import kilograms, local_time, share
from rindline.testing import FakeClock, FakeServer
from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    BatchAnswer,
    DiscrepancyPage,
    DrillAnswer,
    LotPage,
    OriginAnswer,
    TraceAnswer,
)
from rindline_schema.events import Event, NewWheel
from rindline_schema.problems import Problem, make_problem
from tests.sdk.samples import (
    AT,
    DRILL,
    DRILL_ANSWER,
    DRILLS,
    LOT,
    MAKE,
    MILK,
    ORIGIN,
    PORTION,
    TRACE,
    WHEEL,
)

MAKER = EventMaker(FakeClock())
_TYPO = PORTION[:-1] + ("0" if PORTION[-1] != "0" else "1")


class _Ran(NamedTuple):
    code: int
    out: str
    err: str


Run = Callable[..., _Ran]


@pytest.fixture
def server() -> FakeServer:
    """Gives a fake server that knows the sample answers."""
    fake = FakeServer()
    fake.answer("origin", ORIGIN)
    fake.answer("trace", TRACE)
    fake.answer("start_drill", DRILL_ANSWER)
    fake.answer("drill", DRILL_ANSWER)
    fake.answer("drills", DRILLS)
    fake.answer("lot", LOT)
    fake.answer("discrepancies", DiscrepancyPage(discrepancies=LOT.discrepancies, as_of=41))
    return fake


@pytest.fixture
def run(
    server: FakeServer, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Iterator[Run]:
    """Gives a way to run the command line against the fake, in a zone an hour east of UTC."""
    for name in ("RINDLINE_KEY", "RINDLINE_SERVER", "NO_COLOR", "COLUMNS", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TZ", "XXX-1")
    time.tzset()

    def command(*arguments: str) -> _Ran:
        code = main(arguments, transport=server)
        out, err = capsys.readouterr()
        return _Ran(code, out, err)

    yield command
    monkeypatch.undo()
    time.tzset()


def _row(text: str, *cells: str) -> bool:
    """Tell whether one line of the text has all the cells, in their order."""
    for line in text.splitlines():
        place = 0
        for cell in cells:
            place = line.find(cell, place)
            if place < 0:
                break
            place += len(cell)
        else:
            return True
    return False


def test_origin_tells_where_a_piece_came_from(run: Run) -> None:
    """Wheel, make, milk with its shares, the hold, local times with offset, the safety note."""
    ran = run("origin", PORTION)
    assert (ran.code, ran.err) == (0, "")
    assert _row(ran.out, "Product", "QB-WEDGE (Quillmere Blue, wedge)")
    assert _row(ran.out, "Made", "2026-02-03 06:30+01:00")
    assert _row(ran.out, MILK, "HERD-1 (Upper herd)", "40.0000")
    assert _row(ran.out, "60.0000", "not yet recorded")
    assert _row(ran.out, WHEEL, "2.400")
    assert _row(ran.out, MAKE, "QM", "raw")
    assert _row(ran.out, MILK, "inhibitors found")
    assert SAFETY_NOTE in ran.out


def test_a_lot_code_may_be_typed_in_small_letters(run: Run, server: FakeServer) -> None:
    """People type; the code is the same."""
    assert run("origin", PORTION.lower()).code == 0
    assert server.requests[0].path == f"/v1/lots/{PORTION}/origin"


def test_trace_lists_lots_and_edges(run: Run) -> None:
    """Counts, each lot with its distance and who holds it; what went into what if asked."""
    ran = run("trace", "forward", MILK, "--edges")
    assert ran.code == 0
    assert _row(ran.out, "milk", "1", "412.000")
    assert _row(ran.out, "1", MAKE, "make", "on hand", "QM VATS 41.005 kg")
    assert _row(ran.out, MILK, MAKE, "412.000")
    assert "What went into what" not in run("trace", "forward", MILK).out


def test_a_drill_answers_the_recall(run: Run, server: FakeServer) -> None:
    """Counts, holders with documents, mass balance, what is amiss, how long it took, the note."""
    ran = run("drill", MILK, WHEEL, "--forward", "--live", "--reason", "inhibitors")
    assert ran.code == 0
    assert _row(ran.out, "LIVE")
    assert _row(ran.out, "wheel", "40", "1", "96.000")
    assert _row(ran.out, "QM", "CAVE-1", "30", "30", "66.003")
    assert _row(ran.out, "DN-7", "PK", "2", "2", "4.400")
    assert _row(ran.out, "SHOP-3", "Corner shop", "3 Mill Lane", "1", "9", "2.250")
    assert _row(ran.out, "delivery note DN-9", "2026-02-03 06:30+01:00", "1", "10", "2.500")
    for title, figure in (("Made", "96.000"), ("Ripening loss", "1.400"), ("Samples", "0.050")):
        assert _row(ran.out, title, figure)
    assert _row(ran.out, "Unaccounted for", "0.002")
    assert _row(ran.out, "Accounted for", "100.00 %")
    assert DRILL_ANSWER.pending[0] in ran.out
    assert "Discrepancies: none" in ran.out
    assert "Answered in 37 ms." in ran.out
    assert SAFETY_NOTE in ran.out
    asked = json.loads(server.requests[0].body or b"")
    assert asked["lots"] == [MILK, WHEEL]
    assert (asked["direction"], asked["purpose"]) == ("forward", "live")
    assert asked["reason"] == "inhibitors"
    assert UUID(asked["id"]).version == 7


@pytest.mark.parametrize("way", ["back", "forward"])
def test_a_drill_asks_in_the_direction_given(run: Run, server: FakeServer, way: str) -> None:
    """``--back`` and ``--forward`` are asked for; without either it is both, the default."""
    assert run("drill", MILK, f"--{way}").code == 0
    assert json.loads(server.requests[0].body or b"")["direction"] == way
    assert run("drill", MILK).code == 0
    assert "direction" not in json.loads(server.requests[1].body or b"")


def test_drills_are_listed_and_shown_again(run: Run, server: FakeServer) -> None:
    """The list, and one of them as it was answered."""
    assert _row(run("drills").out, str(DRILL), "live", "forward", MILK, "office", "37")
    assert "Mass balance in kg" in run("drills", str(DRILL)).out
    assert server.requests[1].path == f"/v1/drills/{DRILL}"


def test_lots_are_searched(run: Run, server: FakeServer) -> None:
    """Every filter reaches the server; more than the limit is said on standard error."""
    _tell_wheels(server, 3)
    ran = run("lots", "--kind", "wheel", "--limit", "2")
    assert ran.code == 0
    assert len([line for line in ran.out.splitlines() if "QB-WHEEL" in line]) == 2
    assert _row(ran.out, "wheel", "on hand", "QB-WHEEL", "QM", "2026-02-03 06:30+01:00", "2.400")
    assert ran.err == "rindline: there are more than 2: raise --limit to see them\n"
    query = {
        "product": "QB-WHEEL",
        "site": "QM",
        "state": "on_hand",
        "made_from": "2026-02-01",
        "made_to": "2026-02-28",
        "prefix": "QM26",
    }
    options = [f"--{name.replace('_', '-')}={text}" for name, text in query.items()]
    ran = run("lots", *options, "--not-held")
    assert dict(server.requests[-1].query) == query | {"held": "false"}
    assert ran.err == ""
    assert "none that fits" in run("lots", "--held").out


def test_a_long_list_takes_several_pages(run: Run, server: FakeServer) -> None:
    """A limit beyond a page is reached by asking on; exactly so many are given."""
    _tell_wheels(server, 1300)
    ran = run("lots", "--limit", "1200", "--json")
    page = msgspec.json.decode(ran.out, type=LotPage)
    assert len(page.lots) == len({lot.lot for lot in page.lots}) == 1200
    assert page.next_cursor is not None


def _tell_wheels(server: FakeServer, count: int) -> None:
    for start in range(0, count, 1000):
        wheels = [NewWheel(mass_g=2400)] * min(1000, count - start)
        event = MAKER.hoop(make=MAKE, product="QB-WHEEL", room="DRAIN", wheels=wheels, at=AT)
        server.send(_request(event), 1)


def _request(event: Event) -> Request:
    return Request("POST", "/v1/events", body=msgspec.json.encode(event))


def test_a_lot_is_shown(run: Run, server: FakeServer) -> None:
    """Who holds it, what became of the rest, what does not fit; also as of an earlier event."""
    ran = run("lot", WHEEL, "--as-of", "41")
    assert _row(ran.out, "on hand", "QM", "CAVE-1", "1", "1.150")
    assert _row(ran.out, "ripening loss", "0.250")
    assert _row(ran.out, "heavier than before", WHEEL, "0.030", "gained", "open")
    assert server.requests[0].query == (("as_of", "41"),)


def test_discrepancies_are_listed(run: Run, server: FakeServer) -> None:
    """Open ones unless said otherwise, of one lot if said."""
    ran = run("discrepancies", "--show", "all", "--lot", WHEEL)
    assert _row(ran.out, "0" * 24, "heavier than before", WHEEL)
    assert dict(server.requests[0].query) == {"show": "all", "lot": WHEEL}


def test_whoami_says_what_the_key_may(run: Run) -> None:
    """Name, role, and that it does not expire."""
    ran = run("whoami")
    assert _row(ran.out, "Role", "manager")
    assert _row(ran.out, "Expires", "never")


@pytest.mark.parametrize(
    ("arguments", "answer", "expected"),
    [
        (["origin", PORTION], OriginAnswer, ORIGIN),
        (["trace", "forward", MILK], TraceAnswer, TRACE),
        (["drill", MILK], DrillAnswer, DRILL_ANSWER),
        (["drills", str(DRILL)], DrillAnswer, DRILL_ANSWER),
    ],
)
def test_json_is_the_answer_itself(
    run: Run, arguments: list[str], answer: type, expected: object
) -> None:
    """With --json a program gets the contract's answer and nothing else on standard output."""
    ran = run(*arguments, "--json")
    assert (ran.code, ran.err) == (0, "")
    assert msgspec.json.decode(ran.out, type=answer) == expected


@pytest.mark.parametrize("command", ["drills", "lots", "discrepancies", "whoami", "lot"])
def test_every_command_has_json(run: Run, command: str) -> None:
    """The other commands print one JSON object, too."""
    ran = run(command, *([WHEEL] if command == "lot" else []), "--json")
    assert ran.code == 0
    assert isinstance(json.loads(ran.out), dict)


# --- telling ----------------------------------------------------------------------------------


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
    assert _row(ran.out, "1", "weigh", str(events[0].id), "recorded", "1")
    assert f"{count} recorded, 0 recorded before, 0 refused" in ran.out
    again = run("tell", file)
    assert f"0 recorded, {count} recorded before, 0 refused" in again.out
    assert len(server.told) == count


def test_given_codes_are_in_the_outcome(run: Run, server: FakeServer, tmp_path: Path) -> None:
    """Whoever must stamp the wheel reads its code here."""
    event = MAKER.hoop(make=MAKE, product="QB", room="DRAIN", wheels=[NewWheel(mass_g=2400)])
    ran = run("tell", _write(tmp_path, "object", [event]))
    assert _row(ran.out, "hoop", "recorded", f"/wheels/0/lot is {next(iter(server.lots))}")


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
    assert _row(ran.out, "42", "weigh", "refused: lot_held", "it is on hold", "Have it released")
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


# --- errors, keys, exit codes -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("problem", "code"),
    [
        ("not_found", 3),
        ("unauthorized", 4),
        ("forbidden", 4),
        ("busy", 5),
        ("internal", 5),
        ("id_reused", 1),
        ("bad_cursor", 1),
    ],
)
def test_a_problem_gives_its_exit_code(
    run: Run, server: FakeServer, monkeypatch: pytest.MonkeyPatch, problem: str, code: int
) -> None:
    """The message goes to standard error with what to do; standard output stays empty."""
    monkeypatch.setattr("rindline._clock.RealClock.sleep", lambda _self, _seconds: None)
    server.refuse_next(make_problem(problem, "so it is"), times=8)
    ran = run("whoami")
    assert (ran.code, ran.out) == (code, "")
    assert ran.err.startswith("rindline: ")
    assert problem in ran.err
    assert make_problem(problem, "").what_to_do in ran.err


def test_a_mistyped_code_is_usage(run: Run, server: FakeServer) -> None:
    """A wrong character is found without asking anybody: exit code 2."""
    ran = run("origin", _TYPO)
    assert (ran.code, ran.out) == (2, "")
    assert "check character" in ran.err
    assert server.requests == []


def test_an_absent_server_is_not_answered(
    run: Run, server: FakeServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit code 5 when nobody answers."""
    monkeypatch.setattr("rindline._clock.RealClock.sleep", lambda _self, _seconds: None)
    server.lose_next_request(times=8)
    assert run("whoami").code == 5


def test_an_interrupt_ends_at_once(
    run: Run, server: FakeServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C gives 130, as shells expect, and no traceback."""

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(server, "send", interrupt)
    ran = run("whoami")
    assert ran.code == 130
    assert ran.err == "rindline: interrupted; what was told before stays told\n"


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["origin"],
        ["trace", "sideways", MILK],
        ["lots", "--limit", "0"],
        ["lots", "--made-from", "yesterday"],
        ["drill"],
        ["drill", MILK, "--back", "--forward"],
        ["whoami", "--timeout", "-1"],
        ["whoami", "--key", "rl_secret"],
    ],
)
def test_wrong_usage_is_2(run: Run, arguments: list[str]) -> None:
    """argparse's own code is kept for it, and there is no option that takes a key."""
    with pytest.raises(SystemExit) as caught:
        run(*arguments)
    assert caught.value.code == 2


def test_the_key_comes_from_the_environment_or_a_file(
    run: Run, server: FakeServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """RINDLINE_KEY, or the file named by --key-file, which wins; its last newline is nothing."""

    def sent() -> str:
        return server.requests[-1].headers.get("authorization", "none")

    assert run("whoami").code == 0
    assert sent() == "none"
    monkeypatch.setenv("RINDLINE_KEY", "rl_from-the-environment")
    run("whoami")
    assert sent() == "Bearer rl_from-the-environment"
    file = tmp_path / "key"
    file.write_text("rl_from-the-file\n")
    run("whoami", "--key-file", str(file))
    assert sent() == "Bearer rl_from-the-file"
    ran = run("whoami", "--key-file", str(tmp_path / "none"))
    assert (ran.code, "cannot be read" in ran.err) == (2, True)


@respx.mock
def test_the_server_is_asked_over_http(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a stand-in the address of --server, else of RINDLINE_SERVER, is asked."""
    body = httpx.Response(200, json={"key": "k", "name": "n", "role": "auditor"})
    first = respx.get("http://one.invalid/v1/key").mock(return_value=body)
    second = respx.get("https://two.invalid/base/v1/key").mock(return_value=body)
    monkeypatch.setenv("RINDLINE_SERVER", "http://one.invalid")
    assert main(["whoami", "--json"]) == 0
    assert main(["whoami", "--json", "--server", "https://two.invalid/base/"]) == 0
    assert (first.call_count, second.call_count) == (1, 1)
    assert capsys.readouterr().out.count("auditor") == 2


def test_help_documents_commands_and_exit_codes(capsys: pytest.CaptureFixture[str]) -> None:
    """--help, of the whole and of a command, lists every exit code and where the key is from."""
    for arguments in (["--help"], ["tell", "--help"], ["drill", "--help"]):
        with pytest.raises(SystemExit) as caught:
            main(arguments)
        assert caught.value.code == 0
        out = capsys.readouterr().out
        assert [code for code, meaning in EXIT_CODES.items() if f"{code:<5}{meaning}" in out] == [
            *EXIT_CODES
        ]
        assert "RINDLINE_KEY" in out


def test_piped_output_has_no_colour_and_whole_codes(run: Run) -> None:
    """What is no terminal gets plain text, wide enough that no code is broken over two lines."""
    ran = run("drill", MILK)
    assert "\x1b" not in ran.out
    assert MILK in ran.out


def test_a_terminal_gets_colour_unless_told_otherwise(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Colour on a terminal; none with NO_COLOR (no-color.org)."""
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    assert "31m" in run("drill", MILK).out
    monkeypatch.setenv("NO_COLOR", "1")
    assert "31m" not in run("drill", MILK).out


def test_a_reader_that_leaves_early_is_no_error() -> None:
    """``rindline lots | head`` and the like end quietly: no traceback about a broken pipe."""
    script = (
        "import sys\n"
        "from rindline.cli import main\n"
        "from rindline.testing import FakeServer\n"
        "sys.exit(main(['whoami'], transport=FakeServer()))\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        complaint = process.stderr.read()
        assert process.wait(60) == 0
    assert complaint == b""


# --- figures ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mass_g", "text"),
    [
        (0, "0.000"),
        (1, "0.001"),
        (999, "0.999"),
        (1000, "1.000"),
        (-1, "-0.001"),
        (-2500, "-2.500"),
    ],
)
def test_kilograms_are_exact(mass_g: int, text: str) -> None:
    """Three decimals and never a float; worked by hand."""
    assert kilograms(mass_g) == text


def test_large_masses_lose_no_gram() -> None:
    """Beyond what a float holds, worked by hand: 2**53 + 1 grams."""
    assert kilograms(9_007_199_254_740_993) == "9007199254740.993"


def test_shares_and_times_are_written_in_full(run: Run) -> None:
    """Parts per million as % to four decimals; local time with its offset; nothing for unknown."""
    assert (share(333_333), share(1_000_000), share(1)) == ("33.3333", "100.0000", "0.0001")
    assert local_time(datetime(2026, 7, 1, 22, 30, tzinfo=UTC)) == "2026-07-01 23:30+01:00"
    assert local_time(None) == ""
