"""A real server: the command itself in a process of its own, on a database of the test's."""

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx

from rindline_schema.answers import Role
from rindline_server.app import open_service
from rindline_server.settings import Settings
from tests.contract.transports import Checked

__all__ = ["Serving", "add_key", "command", "serving"]

_WAIT_S = 60.0


@dataclass
class Serving:
    """A running server."""

    process: "subprocess.Popen[str]"
    port: int
    log: Path

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def client(self, key: str | None = None) -> httpx.Client:
        """Give a client whose every reply is checked against the document."""
        headers = {"authorization": f"Bearer {key}"} if key else {}
        return httpx.Client(
            transport=Checked(httpx.HTTPTransport()),
            base_url=self.url,
            headers=headers,
            timeout=_WAIT_S,
        )

    def connect(self) -> socket.socket:
        """Open a bare connection."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=_WAIT_S)

    def is_listening(self) -> bool:
        try:
            self.connect().close()
        except OSError:
            return False
        return True

    def resident_bytes(self) -> int:
        """Give the memory all its processes hold together."""
        pages = [
            int(Path(f"/proc/{pid}/statm").read_text("ascii").split()[1])
            for pid in _family(self.process.pid)
        ]
        return sum(pages) * os.sysconf("SC_PAGE_SIZE")

    def terminate(self) -> None:
        """Ask it to stop, as a supervisor does."""
        self.process.send_signal(signal.SIGTERM)

    def wait(self) -> int:
        """Wait for its end and give its exit code."""
        return self.process.wait(_WAIT_S)


def command(*words: str, environment: dict[str, str]) -> "subprocess.Popen[str]":
    """Start `rindline-server` with these words."""
    return subprocess.Popen(
        [sys.executable, "-m", "rindline_server.cli", *words],
        env={**os.environ, **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@contextlib.contextmanager
def serving(
    database_url: str, folder: Path, *, before: Sequence[str] = (), **settings: Any
) -> Iterator[Serving]:
    """Serve for the length of a block; settings as in ``Settings``.

    ``before`` are words of a command that runs the rest, such as ``prlimit``.
    """
    environment = {
        "RINDLINE_DATABASE_URL": database_url,
        **{f"RINDLINE_{name.upper()}": str(value) for name, value in settings.items()},
    }
    log = folder / "server.log"
    with log.open("w") as errors:
        process = subprocess.Popen(
            [*before, sys.executable, "-m", "rindline_server.cli", "serve", "--port", "0"],
            env={**os.environ, **environment},
            stdout=subprocess.PIPE,
            stderr=errors,
            text=True,
        )
    try:
        assert process.stdout is not None
        said = process.stdout.readline()
        assert said.startswith("Rindline answers at http://127.0.0.1:"), log.read_text()
        server = Serving(process, int(said.strip().rstrip("/").rpartition(":")[2]), log)
        _wait_until_ready(server)
        yield server
    finally:
        if process.poll() is None:
            for pid in _family(process.pid):
                with contextlib.suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGKILL)
        process.wait(_WAIT_S)
        if process.stdout is not None:
            process.stdout.close()


def _family(pid: int) -> list[int]:
    """Give a process and all its descendants."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text("ascii").split()
    return [pid, *(one for child in children for one in _family(int(child)))]


def _wait_until_ready(server: Serving) -> None:
    deadline = time.monotonic() + _WAIT_S
    while time.monotonic() < deadline:
        assert server.process.poll() is None, server.log.read_text()
        with contextlib.suppress(httpx.TransportError):
            if httpx.get(f"{server.url}/health/ready").is_success:
                return
        time.sleep(0.02)
    raise TimeoutError(server.log.read_text())


def add_key(
    database_url: str, role: Role, site: str | None = None, partner: str | None = None
) -> str:
    """Make a key in the server's database."""
    with open_service(Settings(database_url=database_url)) as service:
        return service.add_key(f"a {role}", role, site=site, partner=partner)
