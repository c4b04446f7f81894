"""The README's blocks, run in order in an empty folder as a reader would run them."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import takewhile
from pathlib import Path
from typing import NamedTuple

import pytest

_README = Path(__file__).parents[2] / "README.md"
_BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_ADDRESS = "http://127.0.0.1:8040"
_OFFLINE = "# The network is down"
_WAIT_S = 60.0


class Block(NamedTuple):
    """A fenced block: its language and its text."""

    language: str
    text: str


def _tour() -> list[Block]:
    """Give the blocks from the tour's first heading on; those before install things."""
    text = _README.read_text(encoding="utf-8")
    tour = text[text.index("## A record of your own") :]
    return [Block(*found) for found in _BLOCK.findall(tour)]


@contextmanager
def _serving(block: Block, folder: Path, environment: dict[str, str]) -> Iterator[None]:
    process = subprocess.Popen(
        ["bash", "-ec", f"exec {block.text}"],
        cwd=folder,
        env=environment,
        start_new_session=True,
        stdout=subprocess.DEVNULL,
    )
    try:
        until = time.monotonic() + _WAIT_S
        while True:
            try:
                socket.create_connection(("127.0.0.1", int(environment["RINDLINE_PORT"]))).close()
                break
            except OSError:
                assert process.poll() is None, "the server ended by itself"
                assert time.monotonic() < until, "the server does not listen"
                time.sleep(0.1)
        yield
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait(_WAIT_S)


def _environment() -> dict[str, str]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    kept = {name: value for name, value in os.environ.items() if not name.startswith("RINDLINE_")}
    return {
        **kept,
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "RINDLINE_PORT": str(port),
        "RINDLINE_SERVER": f"http://127.0.0.1:{port}",
    }


def _run(block: Block, folder: Path, environment: dict[str, str]) -> str:
    if block.language == "python":
        words = [sys.executable, "-c", block.text.replace(_ADDRESS, environment["RINDLINE_SERVER"])]
    else:
        words = ["bash", "-ec", block.text]
    done = subprocess.run(
        words,
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=_WAIT_S,
    )
    assert done.returncode == 0, f"{block.text}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.mark.slow
def test_the_tour_runs_as_it_stands(tmp_path: Path) -> None:
    """Each block ends well, and the answers say what the text around them promises."""
    serve, *blocks = _tour()
    assert serve.text.startswith("rindline-server serve")
    environment = _environment()
    printed: list[str] = []
    while blocks:
        online = [*takewhile(lambda block: not block.text.startswith(_OFFLINE), blocks)]
        with _serving(serve, tmp_path, environment):
            printed += [_run(block, tmp_path, environment) for block in online]
        # Whoever says that the network is down is run while nobody answers.
        offline = blocks[len(online) : len(online) + 1]
        printed += [_run(block, tmp_path, environment) for block in offline]
        blocks = blocks[len(online) + len(offline) :]
    assert any(text.startswith("queued: 1") for text in printed), "told while nobody answered"
    assert (tmp_path / "label.pdf").read_bytes().startswith(b"%PDF")
    shop, manager = printed[-2], printed[-1]
    assert "Vennaby Farm" in shop
    assert "60.0000" in shop, "96 of 160 litres"
    assert "The Corner Shop" in manager
    assert "DN-1" in manager


def test_the_exit_codes_are_those_of_the_command_line() -> None:
    """The README lists every exit code, and no other."""
    from rindline.cli._exits import EXIT_CODES  # noqa: PLC0415

    text = _README.read_text(encoding="utf-8")
    line = text[text.index("Exit codes of `rindline`:") :].split("\n\n")[0]
    assert {int(code) for code in re.findall(r"\b(\d+)\b", line)} == set(EXIT_CODES)
