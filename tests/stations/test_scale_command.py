"""``rindline scale`` beside a played scale: at a terminal, in a pipe, interrupted."""

import contextlib
import os
import pty
import random
import re
import select
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from rindline import Outbox
from rindline.cli._desk import opened_desk
from rindline_schema.events import Weigh
from tests.sdk.samples import MISTYPED, WHEEL, code
from tests.stations.scale_desk import LiveScale, kept, live_scale, until
from tests.stations.scale_player import line, played

_WHEELS = [code("wheel", serial) for serial in range(1, 7)]
_OWN_TERMINAL = (
    "import fcntl, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0)\n"
    "from rindline.cli import main; raise SystemExit(main())"
)


def _arguments(scale: LiveScale, outbox: Path, *more: str) -> list[str]:
    # Nobody answers there: everything must work without a network.
    nowhere = ["--server", "http://127.0.0.1:9", "--timeout", "0.2"]
    return ["scale", *scale.options, "--outbox", str(outbox), *nowhere, *more]


@dataclass
class _Person:
    """Somebody at a terminal: types, and sees what was drawn so far."""

    terminal: int
    seen: str = ""

    def types(self, text: str) -> None:
        os.write(self.terminal, text.encode())

    def look(self) -> str:
        while select.select([self.terminal], [], [], 0)[0]:
            try:
                data = os.read(self.terminal, 65536)
            except OSError:
                break
            self.seen += data.decode(errors="replace")
        return self.seen

    def sees(self, text: str) -> None:
        until(lambda: text in self.look())

    def sees_anew(self, text: str) -> None:
        self.look()
        self.seen = ""
        self.sees(text)


@contextlib.contextmanager
def _at_a_terminal(arguments: list[str]) -> Iterator[tuple[_Person, "subprocess.Popen[bytes]"]]:
    master, slave = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-c", _OWN_TERMINAL, *arguments],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        start_new_session=True,
    )
    person = _Person(master)
    before = termios.tcgetattr(slave)
    try:
        yield person, process
        # Whoever drew nothing more can end; what is drawn must go somewhere until then.
        until(lambda: bool(person.look()) and process.poll() is not None)
        person.look()
        assert termios.tcgetattr(slave) == before
    finally:
        if process.poll() is None:
            process.kill()
        process.wait()
        os.close(master)
        os.close(slave)


def _weighed(outbox: Path) -> list[tuple[str, int]]:
    return [(event.lot, event.mass_g) for event in kept(outbox) if isinstance(event, Weigh)]


def test_lots_are_weighed_at_a_terminal_without_a_network(tmp_path: Path) -> None:
    """Scan, put on, take off, six times over, no server anywhere: the weight is seen big, what is
    recorded is on disk, what is queued is counted; Ctrl-C ends it and leaves the terminal as it
    was.
    """
    outbox = tmp_path / "outbox.db"
    masses = [8012, 7950, 7950, 8100, 120, 11_000]
    with (
        live_scale() as scale,
        _at_a_terminal(_arguments(scale, outbox, "--scale-code", "QB-SCALE")) as (person, process),
    ):
        person.sees("Lot code")
        person.types(MISTYPED + "\r")
        person.sees("check character")
        for lot, mass_g in zip(_WHEELS, masses, strict=True):
            person.types(lot.lower() + "\r")
            person.sees(f"{lot}: put it on")
            scale.put(mass_g)
            person.sees(f"recorded: {mass_g // 1000}.{mass_g % 1000:03d} kg  {lot}")
            assert _weighed(outbox)[-1] == (lot, mass_g)
            person.sees_anew("take it off")
            scale.lift()
        person.sees("queued: 6")
        # The figure 1 in five rows, from across the table.
        assert re.search(r"██  +██████", person.seen)
        person.types("\x03")
    assert process.returncode == 130
    assert "interrupted" in person.seen
    assert "6 weighed; what is not yet sent is on disk" in person.seen
    assert _weighed(outbox) == list(zip(_WHEELS, masses, strict=True))
    assert {event.scale for event in kept(outbox) if isinstance(event, Weigh)} == {"QB-SCALE"}


def test_another_wheels_mass_is_asked_about(tmp_path: Path) -> None:
    """A wheel that would have gained a kilogram since it was last weighed is recorded only after
    somebody said y; after n it must come off and is weighed anew. A code scanned
    too early is not taken for later; an empty line leaves a lot out.
    """
    outbox = tmp_path / "outbox.db"
    with (
        live_scale() as scale,
        _at_a_terminal(_arguments(scale, outbox)) as (person, process),
    ):
        person.types(f"{WHEEL}\r")
        scale.put(8000)
        person.sees(f"recorded: 8.000 kg  {WHEEL}")
        scale.lift()
        person.types(f"{WHEEL}\r")
        person.sees("last 8.000 kg: put it on")
        scale.put(9000)
        person.sees("9000 g lies outside 5600 to 8020 g")
        person.types("perhaps\rn\r")
        person.sees("Not recorded")
        scale.lift()
        scale.put(9100)
        person.sees("9100 g lies outside")
        assert len(_weighed(outbox)) == 1
        person.types("y\r")
        person.sees("recorded: 9.100 kg")
        person.types(f"{_WHEELS[1]}\r")
        person.sees(f"{_WHEELS[1]}: put it on")
        person.types(f"{_WHEELS[2]}\r")
        person.sees(f"{_WHEELS[2]} was not taken")
        person.types("\r")
        person.sees(f"{_WHEELS[1]} was not weighed")
        person.types("\x04")
    assert process.returncode == 0
    assert _weighed(outbox) == [(WHEEL, 8000), (WHEEL, 9100)]


def test_codes_come_from_a_pipe(tmp_path: Path) -> None:
    """Without a terminal it says each thing once; a doubt at the end of the input is not settled
    by nobody: nothing is recorded for it, and the exit code says so.
    """
    outbox = tmp_path / "outbox.db"
    with live_scale() as scale:
        process = subprocess.Popen(
            [sys.executable, "-m", "rindline", *_arguments(scale, outbox)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert process.stdin is not None
        process.stdin.write(f"{WHEEL}\n{WHEEL}\n")
        process.stdin.close()
        process.stdin = None
        scale.put(8000)
        until(lambda: len(_weighed(outbox)) == 1)
        scale.lift()
        scale.put(12_000)
        out, err = process.communicate(timeout=60)
    assert process.returncode == 1
    assert out.count("recorded: 8.000 kg") == 1
    assert "12000 g lies outside" in err
    assert "1 weighed" in out
    assert _weighed(outbox) == [(WHEEL, 8000)]


@pytest.mark.parametrize("seed", range(4))
def test_interrupted_at_any_moment_what_was_said_holds(tmp_path: Path, seed: int) -> None:
    """Ctrl-C at a chance moment: everything said to be recorded is on disk, at most the one in
    hand more, and the process ends by itself.
    """
    outbox = tmp_path / "outbox.db"
    dice = random.Random(seed)
    with (
        live_scale() as scale,
        _at_a_terminal(_arguments(scale, outbox)) as (person, process),
    ):
        person.sees("Lot code")
        for lot, mass_g in zip(_WHEELS, (8001, 8002), strict=False):
            person.types(f"{lot}\r")
            scale.put(mass_g)
            person.sees(f"recorded: {mass_g / 1000} kg")
            scale.lift()
        person.types(f"{_WHEELS[2]}\r")
        scale.put(8003)
        time.sleep(dice.random() / 4)
        os.killpg(process.pid, signal.SIGINT)
    assert process.returncode == 130
    said = re.findall(r"recorded: (\d)\.(\d{3}) kg  (\w+)", person.seen)
    told = list(dict.fromkeys((lot, int(kg) * 1000 + int(g)) for kg, g, lot in said))
    assert told[:2] == [(_WHEELS[0], 8001), (_WHEELS[1], 8002)]
    assert _weighed(outbox)[: len(told)] == told
    assert _weighed(outbox)[len(told) :] in ([], [(_WHEELS[2], 8003)])


def test_ctrl_c_waits_for_the_step_in_hand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pressed while a piece is being told and labelled, Ctrl-C takes effect only when the next
    thing is asked; afterwards it is as it was before.
    """
    before = signal.getsignal(signal.SIGINT)
    scale, _ = played(line(0))
    with (
        (tmp_path / "nothing").open("w+") as nothing,
        Outbox(tmp_path / "outbox.db", drains=False) as outbox,
    ):
        monkeypatch.setattr("sys.stdin", nothing)
        with opened_desk(scale, outbox) as desk:
            signal.raise_signal(signal.SIGINT)
            outbox.weigh(lot=WHEEL, mass_g=8000)
            with pytest.raises(KeyboardInterrupt):
                desk.weigh("anything")
        assert [
            event.lot for event in kept(tmp_path / "outbox.db") if isinstance(event, Weigh)
        ] == [WHEEL]
    assert signal.getsignal(signal.SIGINT) is before


def test_a_scale_that_is_not_there_is_said(tmp_path: Path) -> None:
    """A wrong port does not end the command, since scales come back; it says why it waits."""
    arguments = ["scale", "--port", "/dev/no-such-scale", "--format", "(?P<value>.*)"]
    arguments += ["--unit", "kg", "--outbox", str(tmp_path / "outbox.db")]
    with _at_a_terminal(arguments) as (person, process):
        person.sees("NO SCALE")
        person.sees("/dev/no-such-scale cannot be opened")
        person.types("\x03")
    assert process.returncode == 130


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--port", "udp://x:1", "--format", "(?P<value>.*)", "--unit", "kg"], "is not an address"),
        (["--port", "tcp://x:1", "--format", "(?P<value>.*)"], "which unit"),
        (["--port", "tcp://x:1", "--format", "("], "pattern is not one"),
    ],
)
def test_wrong_settings_end_at_once(tmp_path: Path, arguments: list[str], said: str) -> None:
    """What no scale will ever mend ends the command with exit code 2 and says what is wrong."""
    ran = subprocess.run(
        [sys.executable, "-m", "rindline", "scale", *arguments, "--outbox", tmp_path / "o.db"],
        check=False,
        capture_output=True,
        text=True,
    )
    assert ran.returncode == 2
    assert said in ran.stderr


def test_without_an_outbox_it_says_how_to_name_one(tmp_path: Path) -> None:
    """Without a file for the outbox nothing is weighed into the void."""
    environment = {k: v for k, v in os.environ.items() if k != "RINDLINE_OUTBOX"}
    ran = subprocess.run(
        [sys.executable, "-m", "rindline", "scale", "--port", "tcp://x:1", "--format", "x"],
        check=False,
        capture_output=True,
        text=True,
        env=environment,
    )
    assert ran.returncode == 2
    assert "RINDLINE_OUTBOX" in ran.stderr
