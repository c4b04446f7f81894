"""A server of the demo's own: a process on this machine, as `rindline-server serve` starts it."""

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from rindline import Client
from rindline.errors import RindlineError
from rindline_server.settings import Settings

__all__ = ["OwnServer", "ServerFailedError", "free_port", "running_server"]

_START_S = 60.0
_LOG_LINES = 20


class ServerFailedError(RuntimeError):
    """The server did not start, or ended; the message holds the end of its log."""


class OwnServer:
    """A running server: its address, and a way to wait until it ends."""

    def __init__(self, process: subprocess.Popen[bytes], address: str, log: Path) -> None:
        """Take a process that was started, and where it logs."""
        self.address = address
        self._process = process
        self._log = log

    def wait_until_ready(self) -> None:
        """Wait until it answers; raises :class:`ServerFailedError` if it does not."""
        until = time.monotonic() + _START_S
        with Client(self.address) as client:
            while time.monotonic() < until:
                if self._process.poll() is not None:
                    break
                try:
                    if client.ready().status == "ok":
                        return
                except RindlineError:
                    pass  # it does not listen yet
                time.sleep(0.1)
        raise ServerFailedError(f"The server did not start:\n{self._log_end()}")

    def wait(self) -> None:
        """Wait until it ends by itself, which it should not."""
        code = self._process.wait()
        raise ServerFailedError(f"The server ended with code {code}:\n{self._log_end()}")

    def stop(self, timeout_s: float) -> None:
        """Ask it to stop, and wait until it has."""
        if self._process.poll() is None:
            self._process.terminate()
        try:
            self._process.wait(timeout_s)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()

    def _log_end(self) -> str:
        return "\n".join(self._log.read_text("utf-8", "replace").splitlines()[-_LOG_LINES:])


@contextmanager
def running_server(settings: Settings, log: Path) -> Iterator[OwnServer]:
    """Run a server with these settings, logging to a file; it is stopped at the end."""
    command = [sys.executable, "-m", "rindline_server.cli", "serve"]
    with log.open("ab") as output:
        process = subprocess.Popen(  # noqa: S603 - our own program with our own arguments
            command,
            env={**os.environ, **settings.environment()},
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            # Ctrl-C is for the demo, which then stops the server.
            start_new_session=True,
        )
    server = OwnServer(process, f"http://{settings.host}:{settings.port}", log)
    try:
        server.wait_until_ready()
        yield server
    finally:
        server.stop(settings.stop_s)


def free_port(host: str, wanted: int) -> int:
    """Give the port that is wanted if it is free, else any that is."""
    for port in (wanted, 0):
        with socket.socket(socket.AF_INET) as probe:
            # As servers do: a port whose last connection has only just closed is free.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, port))
            except OSError:
                continue
            found: int = probe.getsockname()[1]
            return found
    raise ServerFailedError(f"No port is free at {host}.")
