"""The server under measurement: a process of its own, as users start it, and its memory."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path

from sqlalchemy.engine import URL

from tests.bench.memory import Memory

__all__ = ["Server", "serving"]

_START_LIMIT_S = 60.0
_STOP_LIMIT_S = 40.0


class Server:
    """A running server; ``port`` is on this machine's own address, ``memory`` what it holds."""

    host = "127.0.0.1"

    def __init__(self, process: "subprocess.Popen[bytes]", port: int) -> None:
        self.port = port
        self.memory = Memory(process.pid, with_children=True)

    @property
    def address(self) -> str:
        """The address as a client takes it."""
        return f"http://{self.host}:{self.port}"


@contextmanager
def serving(url: URL, log: Path) -> Iterator[Server]:
    """Start a server on a database and stop it again; what it says goes to a file."""
    with socket.socket() as probe:
        probe.bind((Server.host, 0))
        port: int = probe.getsockname()[1]
    with log.open("wb") as said:
        process = subprocess.Popen(
            [sys.executable, "-m", "rindline_server.cli", "serve", "--port", str(port)],
            env={
                **os.environ,
                "RINDLINE_DATABASE_URL": url.render_as_string(hide_password=False),
                "RINDLINE_HOST": Server.host,
            },
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=said,
        )
    try:
        _wait_until_ready(process, port, log)
        yield Server(process, port)
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(_STOP_LIMIT_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _wait_until_ready(process: "subprocess.Popen[bytes]", port: int, log: Path) -> None:
    deadline = time.monotonic() + _START_LIMIT_S
    while time.monotonic() < deadline and process.poll() is None:
        connection = HTTPConnection(Server.host, port, timeout=5)
        try:
            connection.request("GET", "/health/ready")
            if connection.getresponse().status == 200:
                return
        except OSError:
            time.sleep(0.05)
        finally:
            connection.close()
    message = f"the server did not start:\n{log.read_text()}"
    raise RuntimeError(message)
