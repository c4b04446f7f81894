"""Errors, keys, colours and exit codes of the command line; how its figures are written."""

import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest
import respx

from rindline.cli import main
from rindline.cli._exits import EXIT_CODES
from rindline.cli._figures import kilograms, local_time, percent_at_least, share
from rindline.testing import FakeServer
from rindline_schema.problems import make_problem
from tests.sdk.command_runs import Run, has_row
from tests.sdk.samples import (
    MAKE,
    MILK,
    MISTYPED,
)


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
    ran = run("origin", MISTYPED)
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


def test_a_narrow_screen_breaks_no_code(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """On 80 columns texts are broken over lines, lot codes are not."""
    monkeypatch.setenv("COLUMNS", "80")
    ran = run("trace", "forward", MILK)
    assert max(len(line) for line in ran.out.splitlines()) <= 80
    assert has_row(ran.out, "0", MILK)
    assert has_row(ran.out, "1", MAKE)


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


@pytest.mark.parametrize(
    ("percent", "text"),
    [(100.0, "100.00"), (99.998, "99.99"), (99.07, "99.07"), (0.0, "0.00"), (-0.001, "-0.01")],
)
def test_what_is_not_all_accounted_for_never_reads_100(percent: float, text: str) -> None:
    """A percentage is rounded down, so that 100.00 means all of it; worked by hand."""
    assert percent_at_least(percent) == text


def test_shares_and_times_are_written_in_full(run: Run) -> None:
    """Parts per million as % to four decimals; local time with its offset; nothing for unknown."""
    assert (share(333_333), share(1_000_000), share(1)) == ("33.3333", "100.0000", "0.0001")
    assert local_time(datetime(2026, 7, 1, 22, 30, tzinfo=UTC)) == "2026-07-01 23:30+01:00"
    assert local_time(None) == ""
