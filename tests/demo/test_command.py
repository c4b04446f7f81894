"""The demo as it is run: a real server, the real SDK, a drill on the screen."""

import os
import pty
import re
import select
import socket
import subprocess
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from rindline_schema import SAFETY_NOTE
from rindline_schema.params import PageParams
from rindline_server.app import build_service
from rindline_server.demo.registers import SHOPS
from rindline_server.service import Caller
from rindline_server.settings import Settings
from tests.demo.conftest import DEMO, Folded, Ran

_AUDITOR = Caller("test", "auditor", "auditor", None, None, None)


def _listens(address: str) -> bool:
    parts = urlsplit(address)
    try:
        socket.create_connection((parts.hostname or "", parts.port or 0), 2).close()
    except OSError:
        return False
    return True


def _address(text: str) -> str:
    found = re.search(r"Look at (http://127\.0\.0\.1:\d+)/docs", text)
    assert found is not None, text
    return found[1]


@pytest.mark.slow
def test_without_a_terminal_it_ends_after_the_questions(small: Folded, ran: Ran) -> None:
    """It tells all, drills, looks back from a piece, ends with 0, and leaves no server behind.

    The kept drill has every customer's grams and the balance of every kind as the pure rules
    have them.
    """
    said = ran.process.stdout
    assert f"Told {len(small.story.events)} events" in said
    assert SAFETY_NOTE in said
    assert [name for _, name, _, _ in SHOPS if name not in said] == []
    # Of the wedge's milk, 60 % is of the largest herd and 40 % of the second.
    assert re.search(r"VENNABY .* 60\.0000", said)
    assert re.search(r"TOLMARRICK .* 40\.0000", said)
    assert not _listens(_address(said))

    service = build_service(Settings(database_url=f"sqlite:///{ran.database}"))
    (kept,) = service.drills(_AUDITOR, PageParams()).drills
    drill = service.drill(_AUDITOR, kept.id)
    assert drill.lots == [small.story.milk]
    assert drill.pending == []
    assert [found.kind for found in drill.discrepancies] == ["arrival_differs"]
    assert {at.customer: at.mass_g for at in drill.customers} == _held_by_partners(small)
    for stage in drill.stages:
        gone = stage.on_hand_g + stage.in_transit_g + stage.with_customers_g + stage.into_lots_g
        gone += stage.drained_g + stage.ripening_loss_g + stage.cutting_loss_g
        gone += stage.samples_g + stage.discarded_g + stage.unaccounted_g
        assert stage.made_g == gone, stage.kind


def _held_by_partners(told: Folded) -> dict[str, int]:
    """Give what each customer holds of the story's milk, by the pure rules."""
    reached = {told.story.milk}
    grown = True
    while grown:
        new = {edge.child for edge in told.world.new_edges if edge.parent in reached}
        grown = not new <= reached
        reached |= new
    held: dict[str, int] = {}
    for lot in reached:
        for holding in told.world.books[lot].record.holdings:
            if holding.where == "partner":
                held[holding.holder] = held.get(holding.holder, 0) + holding.mass_g
    return held


@pytest.mark.slow
def test_on_a_terminal_it_stays_until_it_is_interrupted(tmp_path: Path) -> None:
    """The address answers while it stays; Ctrl-C ends the server, and its files are gone."""
    terminal, side = pty.openpty()
    process = subprocess.Popen(
        DEMO,
        stdin=side,
        stdout=side,
        stderr=side,
        env={**os.environ, "TMPDIR": str(tmp_path)},
        start_new_session=True,
    )
    os.close(side)
    try:
        text = _read_until(terminal, "Ctrl-C ends the server.")
        address = _address(text)
        assert _listens(address)
        assert any(tmp_path.iterdir())
        os.kill(process.pid, 2)
        _read_until(terminal, None)
        assert process.wait(60) == 0
    finally:
        process.kill()
        process.wait()
        os.close(terminal)
    assert not _listens(address)
    assert list(tmp_path.iterdir()) == []


def _read_until(terminal: int, words: str | None) -> str:
    """Read what is on the terminal until some words come, or its other end is closed."""
    seen = b""
    while words is None or words.encode() not in seen:
        ready, _, _ = select.select([terminal], [], [], 120)
        assert ready, seen.decode()
        try:
            chunk = os.read(terminal, 65_536)
        except OSError:  # Linux says so of a terminal whose other end is closed
            chunk = b""
        if not chunk:
            assert words is None, seen.decode()
            break
        seen += chunk
    return seen.decode()


def test_it_writes_into_no_database_that_exists(tmp_path: Path) -> None:
    """A file that is there is left alone, and the exit code says that the argument is wrong."""
    database = tmp_path / "there.db"
    database.write_bytes(b"not to be touched")
    ran = subprocess.run(
        [*DEMO, "--once", "--database", str(database)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert ran.returncode == 2
    assert "exists already" in ran.stderr
    assert database.read_bytes() == b"not to be touched"


def test_a_port_in_use_is_said(tmp_path: Path) -> None:
    """If the server cannot start, the demo says so and fails, and its files are gone."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        ran = subprocess.run(
            [*DEMO[:-1], str(port), "--once"],
            env={**os.environ, "TMPDIR": str(tmp_path)},
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
    assert ran.returncode == 1
    assert "did not start" in ran.stderr
    assert list(tmp_path.iterdir()) == []
