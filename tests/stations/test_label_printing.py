"""Printing, the kept registers, and the command: all without a network or a real printer."""

import json
import subprocess
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from rindline import Client, EventMaker, InvalidInputError
from rindline.cli import main
from rindline.labels import (
    LABEL_SIZES,
    LabelError,
    PrintError,
    RegisterCache,
    make_label,
    print_label,
    render_label,
)
from rindline.testing import FakeClock, FakeServer
from rindline_schema.events import Event, Label
from rindline_schema.registers import Partner
from tests.stations.label_samples import (
    CASE,
    PORTION,
    PORTION_FACTS,
    SITE,
    WEDGE,
    WHEEL,
    pdf_pixels,
    png_pixels,
    read,
)

_SHOP = Partner(code="SHOP", name="Corner shop", roles=["customer"])
_LP = """#!/bin/sh
printf '%s\\n' "$@" > "$0.arguments"
cat > "$0.label"
[ "$(cat "$0.mood" 2>/dev/null)" != refuse ] || { echo 'no such queue' >&2; exit 1; }
echo 'request id is COLD-7 (1 file(s))'
"""


@pytest.fixture
def printer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Gives a stand-in for the print service, which keeps what it was handed."""
    folder = tmp_path / "bin"
    folder.mkdir()
    program = folder / "lp"
    program.write_text(_LP)
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{folder}:/usr/bin:/bin")
    return program


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> FakeServer:
    """Gives a fake server with the registers; the cache lies in a folder of the test."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    for name in ("RINDLINE_KEY", "RINDLINE_SERVER"):
        monkeypatch.delenv(name, raising=False)
    fake = FakeServer()
    client = Client(transport=fake)
    for entry in (SITE, WEDGE, _SHOP):
        client.declare(entry)
    return fake


def _told(server: FakeServer) -> list[Event]:
    return [recorded.event for recorded in Client(transport=server).feed_page().events]


_OFFLINE = ("--product", "QB-WEDGE", "--mass-g", "187", "--wheel", WHEEL)


def test_a_label_goes_to_the_print_service(printer: Path) -> None:
    """The bytes arrive whole on standard input, with queue, copies, title and true size."""
    data = render_label(make_label(PORTION_FACTS), "62x40", "pdf")
    said = print_label(
        data, "pdf", LABEL_SIZES["62x40"], printer="cold; rm -rf", copies=3, title=PORTION
    )
    assert said == "request id is COLD-7 (1 file(s))"
    assert Path(f"{printer}.label").read_bytes() == data
    assert Path(f"{printer}.arguments").read_text().splitlines() == [
        "-n", "3", "-t", PORTION, "-o", "media=Custom.62x40mm", "-o", "print-scaling=none",
        "-d", "cold; rm -rf", "-",
    ]  # fmt: skip


def test_printing_that_fails_says_so(printer: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A refusal, a service that is not there or hangs, and wrong wishes are told apart."""
    size = LABEL_SIZES["62x40"]
    Path(f"{printer}.mood").write_text("refuse")
    with pytest.raises(PrintError, match="refused: no such queue"):
        print_label(b"x", "pdf", size)

    def hangs(*_: Any, **__: Any) -> None:
        raise subprocess.TimeoutExpired("lp", 30)

    with monkeypatch.context() as patch:
        patch.setattr(subprocess, "run", hangs)
        with pytest.raises(PrintError, match="does not answer"):
            print_label(b"x", "pdf", size)
    monkeypatch.setenv("PATH", "")
    with pytest.raises(PrintError, match="no lp"):
        print_label(b"x", "pdf", size)
    for wish in ({"copies": 0}, {"printer": "-o x"}, {"printer": ""}):
        with pytest.raises(LabelError, match="at least one copy"):
            print_label(b"x", "pdf", size, **wish)
    with pytest.raises(LabelError, match="SVG"):
        print_label(b"x", "svg", size)


def test_registers_are_kept_and_read_without_a_network(server: FakeServer, tmp_path: Path) -> None:
    """What was fetched is there for a later process, with when; a spoilt file says so."""
    clock = FakeClock()
    file = tmp_path / "kept" / "registers.json"
    assert RegisterCache(file).fetched_at is None
    with pytest.raises(LabelError, match="fetch them once"):
        RegisterCache(file).product("QB-WEDGE")
    assert RegisterCache(file, clock=clock).fetch(Client(transport=server)) == 3
    later = RegisterCache(file)
    assert (later.product("QB-WEDGE"), later.site("QC"), later.partner("SHOP")) == (
        WEDGE,
        SITE,
        _SHOP,
    )
    assert later.fetched_at is not None
    assert abs(later.fetched_at - clock.now()) < timedelta(seconds=1)
    with pytest.raises(LabelError, match="no product 'SHOP'"):
        later.product("SHOP")
    assert [path.name for path in file.parent.iterdir()] == ["registers.json"]
    file.write_bytes(b'{"fetched_at":')
    with pytest.raises(LabelError, match="Fetch it anew"):
        RegisterCache(file).site("QC")


def test_a_fetch_that_fails_keeps_the_last_good_file(
    server: FakeServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that is full while fetching leaves the registers as they were."""
    file = tmp_path / "registers.json"
    RegisterCache(file).fetch(Client(transport=server))
    before = file.read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(LabelError, match="No space left"):
        RegisterCache(file).fetch(Client(transport=server))
    assert file.read_bytes() == before
    assert [path.name for path in tmp_path.glob("registers*")] == ["registers.json"]


def test_the_command_writes_a_label(server: FakeServer, tmp_path: Path) -> None:
    """``rindline label`` fetches the registers once and writes a label that can be scanned."""
    out = tmp_path / "label.png"
    assert main(["label", PORTION, *_OFFLINE, "--out", str(out)], transport=server) == 0
    assert PORTION in read(png_pixels(out.read_bytes()), "DATA_MATRIX").text


def test_the_command_needs_no_network_once_registers_are_kept(
    server: FakeServer, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """After ``rindline registers`` a label is made with the server gone."""
    assert main(["registers"], transport=server) == 0
    assert "3 sites, products and partners" in capsys.readouterr().out
    out = tmp_path / "label.pdf"
    nobody = ["--server", "http://127.0.0.1:9", "--timeout", "0.2"]
    assert main(["label", PORTION, *_OFFLINE, *nobody, "--out", str(out)]) == 0
    assert PORTION in read(pdf_pixels(out.read_bytes(), 24), "DATA_MATRIX").text


def test_the_command_gives_the_content_as_json(
    server: FakeServer, capsys: pytest.CaptureFixture[str]
) -> None:
    """``--json`` shows what the label says, so that another program may draw it."""
    arguments = ["label", PORTION, *_OFFLINE, "--packed", "2026-04-14", "--json"]
    assert main(arguments, transport=server) == 0
    shown = json.loads(capsys.readouterr().out)
    assert (shown["code"], shown["quantity"]["text"]) == (PORTION, "187 g")
    assert {"key": "best_before", "title": "Best before", "text": "19 May 2026"} in shown["fields"]


def test_a_case_is_labelled_by_its_sscc(server: FakeServer, tmp_path: Path) -> None:
    """With an SSCC and what lies in it, the label is a case's."""
    out = tmp_path / "case.png"
    holds = ["--product", "QB-WEDGE", "--holds", f"{PORTION}:12:2244"]
    assert main(["label", CASE, *holds, "--out", str(out)], transport=server) == 0
    assert read(png_pixels(out.read_bytes()), "DATA_MATRIX").text.startswith(f"00{CASE}02")


def test_a_reprint_is_recorded(server: FakeServer, printer: Path) -> None:
    """With ``--reprint`` the label and why it was printed again are an event; without, none."""
    arguments = ["label", PORTION, *_OFFLINE, "--printer", "-", "--copies", "2"]
    assert main(arguments, transport=server) == 0
    assert not [event for event in _told(server) if isinstance(event, Label)]
    assert main([*arguments, "--reprint", "smudged"], transport=server) == 0
    (told,) = (event for event in _told(server) if isinstance(event, Label))
    assert (told.kind, told.lot, told.copies, told.reason) == ("portion", PORTION, 2, "smudged")
    assert "-d" not in Path(f"{printer}.arguments").read_text().splitlines()


def test_a_reprint_that_cannot_be_told_is_not_printed(
    server: FakeServer, printer: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No second label exists that nobody knows of."""
    assert main(["registers"], transport=server) == 0
    nobody = ["--server", "http://127.0.0.1:9", "--timeout", "0.2"]
    arguments = ["label", PORTION, *_OFFLINE, "--printer", "-", "--reprint", "smudged", *nobody]
    assert main(arguments) == 5
    assert not Path(f"{printer}.label").exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([PORTION, *_OFFLINE], "--out FILE or --printer NAME"),
        ([PORTION, *_OFFLINE, "--out", "x.gif"], ".svg, .png or .pdf"),
        ([PORTION, *_OFFLINE, "--out", "/nowhere/x.png"], "cannot be written"),
        ([PORTION[:-1] + "0", *_OFFLINE, "--json"], "check character"),
        ([PORTION, *_OFFLINE, "--site", "ZZ", "--json"], "no site 'ZZ'"),
        ([CASE, "--json"], "--holds"),
        ([CASE, "--product", "QB-WEDGE", "--holds", "x", "--json"], "LOT:COUNT:GRAMS"),
        ([PORTION, *_OFFLINE, "--best-before", "2020-01-01", "--json"], "lies before"),
    ],
)
def test_wrong_usage_is_explained(
    server: FakeServer, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    """Exit code 2, and a line that says what to do."""
    assert main(["label", *arguments], transport=server) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({}, "name either lot or case, not neither"),
        ({"lot": PORTION, "case": CASE}, "not both"),
        ({"lot": PORTION[:-1] + "0"}, "check character"),
        ({"case": "123456789012345670"}, "check digit"),
        ({"lot": PORTION, "copies": 0}, "copies"),
    ],
)
def test_a_label_event_that_cannot_be_right(fields: dict[str, Any], said: str) -> None:
    """What was printed is one lot or one case, with a code that is well formed."""
    with pytest.raises(InvalidInputError, match=said):
        EventMaker(FakeClock()).label(kind="portion", **fields)


def test_a_reprint_says_why() -> None:
    """Naming the first printing without a reason is refused."""
    maker = EventMaker(FakeClock())
    first = maker.label(kind="portion", lot=PORTION)
    again = maker.label(kind="portion", lot=PORTION, reprint_of=first.id, reason="torn")
    assert isinstance(again, Label)
    with pytest.raises(InvalidInputError, match="why"):
        maker.label(kind="portion", lot=PORTION, reprint_of=first.id)
