"""A server that is killed without warning and started again, and clients that go on telling."""

import contextlib
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self
from uuid import UUID

import httpx

from rindline import Client, RetryPolicy
from rindline.errors import TransportError, UnavailableError
from rindline.transport import HttpTransport
from rindline_schema.answers import Told
from rindline_schema.events import Receive

__all__ = ["WAIT_S", "MortalServer", "Teller"]

WAIT_S = 120.0
_PAUSE_S = 0.02
_ONCE = RetryPolicy(max_attempts=1)


class MortalServer:
    """The server's command in a process group of its own; ``address`` is None while it is dead."""

    def __init__(self, database_url: str, folder: Path) -> None:
        self.address: str | None = None
        self._environment = {**os.environ, "RINDLINE_DATABASE_URL": database_url}
        self._log = (folder / "server.log").open("wb")
        self._process: subprocess.Popen[str] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.kill()
        self._log.close()

    def start(self) -> None:
        """Start it and wait until it listens."""
        self._process = process = subprocess.Popen(
            [sys.executable, "-m", "rindline_server.cli", "serve", "--port", "0"],
            env=self._environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=self._log,
            text=True,
            start_new_session=True,
        )
        assert process.stdout is not None
        said = process.stdout.readline()
        assert said.startswith("Rindline answers at http://127.0.0.1:"), said
        address = said.removeprefix("Rindline answers at ").strip().rstrip("/")
        _wait_until_it_listens(int(address.rpartition(":")[2]))
        self.address = address

    def kill(self) -> None:
        """`kill -9`, the process that answers and the one that watches it at one moment."""
        process, self._process, self.address = self._process, None, None
        if process is None:
            return
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait(WAIT_S)
        if process.stdout is not None:
            process.stdout.close()


def _wait_until_it_listens(port: int) -> None:
    deadline = time.monotonic() + WAIT_S
    while time.monotonic() < deadline:
        with contextlib.suppress(ConnectionError):
            socket.create_connection(("127.0.0.1", port), timeout=WAIT_S).close()
            return
        time.sleep(_PAUSE_S)
    raise TimeoutError("the server does not listen")


class Teller(threading.Thread):
    """Tells events, some of them in batches, and each again until it is answered.

    ``acknowledged`` holds the answers, ``in_doubt`` what was sent once without being answered.
    """

    def __init__(
        self, server: MortalServer, key: str, events: Iterator[Receive], batch: int
    ) -> None:
        super().__init__()
        self.acknowledged: dict[UUID, Told] = {}
        self.in_doubt: set[UUID] = set()
        self.faults: list[BaseException] = []
        self._server = server
        self._key = key
        self._events = events
        self._batch = batch
        self._enough = threading.Event()
        self._address: str | None = None
        self._client: Client | None = None

    def enough(self) -> None:
        """Let it end once all it sent is answered."""
        self._enough.set()

    def run(self) -> None:
        try:
            while not self._enough.is_set():
                self._tell([next(self._events) for _ in range(self._batch)])
        except BaseException as error:  # noqa: BLE001 - a thread's error must reach the test
            self.faults.append(error)
        finally:
            self._hang_up()

    def _tell(self, events: Sequence[Receive]) -> None:
        deadline = time.monotonic() + WAIT_S
        while time.monotonic() < deadline:
            client = self._connected()
            if client is not None and self._is_told(client, events):
                return
            time.sleep(_PAUSE_S)
        raise TimeoutError(f"{len(events)} events were not answered")

    def _connected(self) -> Client | None:
        """A client of the server that is alive now."""
        address = self._server.address
        if address != self._address:
            self._hang_up()
            self._address = address
            if address is not None:
                # No certificates are read: that would take longer than many an answer here.
                http = HttpTransport(address, client=httpx.Client(verify=False))
                self._client = Client(key=self._key, transport=http, retries=_ONCE)
        return self._client

    def _hang_up(self) -> None:
        if self._client is not None:
            self._client.close()
        self._client = None

    def _is_told(self, client: Client, events: Sequence[Receive]) -> bool:
        try:
            outcomes = [client.tell(events[0])] if len(events) == 1 else client.tell_many(events)
        except UnavailableError:
            return False
        except TransportError as error:
            # Whether it was written down is not known; if nobody listened, it was not.
            if not isinstance(error.__cause__, httpx.ConnectError):
                self.in_doubt.update(event.id for event in events)
            return False
        for outcome in outcomes:
            assert isinstance(outcome, Told), outcome
            self.acknowledged[outcome.id] = outcome
        return True
