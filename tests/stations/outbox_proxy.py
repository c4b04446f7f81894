"""A proxy that does to requests what a bad network does, by seeded chance."""

import random
import socket
import struct
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress

__all__ = ["FAULTS", "HostileProxy", "hostile_proxy"]

FAULTS = (
    "drop_request",
    "drop_answer",
    "reset_request",
    "reset_answer",
    "stall",
    "slice",
    "repeat",
    "reorder",
)
_STALL_S = 0.6
_RESET = struct.pack("ii", 1, 0)


class HostileProxy:
    """Passes requests on to a server, and does one of the faults to a share of them.

    ``drop``: lost whole, before or after the server. ``reset``: the connection breaks in the
    middle of the request's or the answer's bytes. ``stall``: passed on when the asker has long
    given up. ``slice``: one byte at a time, both ways. ``repeat``: passed on twice. ``reorder``:
    answered never, and passed on after later requests. ``server`` may be set anew when the server
    has moved.
    """

    def __init__(self, server: tuple[str, int], share: float, seed: int) -> None:
        self.server = server
        self._share = share
        self._seed = seed
        self._late: list[threading.Thread] = []
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.address: tuple[str, int] = self._listener.getsockname()
        self.done: Counter[str] = Counter()
        self._count = threading.Lock()

    def run(self) -> None:
        """Take connections until the listener is closed."""
        number = 0
        with suppress(OSError):
            while True:
                client, _ = self._listener.accept()
                number += 1
                # A string seeds the same chance in every process.
                chance = random.Random(f"{self._seed}-{number}")
                threading.Thread(target=self._serve, args=(client, chance), daemon=True).start()

    def close(self) -> None:
        """Take no more connections, and let what is late arrive."""
        with suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        for thread in self._late:
            thread.join()

    def _serve(self, client: socket.socket, chance: random.Random) -> None:
        client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        with client, suppress(OSError):
            while request := _whole_message(client):
                faulty = chance.random() < self._share
                fault = chance.choice(FAULTS) if faulty else "none"
                with self._count:
                    self.done[fault] += 1
                if not self._handle(client, request, fault, chance):
                    return

    def _handle(
        self, client: socket.socket, request: bytes, fault: str, chance: random.Random
    ) -> bool:
        """Do with a request what the fault says; False breaks the connection."""
        match fault:
            case "drop_request":
                return False
            case "reset_request":
                self._exchange(request[: chance.randrange(1, len(request))], whole=False)
                return False
            case "reorder":
                late = threading.Thread(target=self._pass_late, args=(request, chance.random()))
                self._late.append(late)
                late.start()
                return False
            case "stall":
                time.sleep(_STALL_S)
        if fault == "repeat":
            self._exchange(request)
        answer = self._exchange(request, sliced=fault == "slice")
        if fault == "drop_answer" or not answer:
            return False
        if fault == "reset_answer":
            client.sendall(answer[: chance.randrange(1, len(answer))])
            client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _RESET)
            return False
        _send(client, answer, sliced=fault == "slice")
        return True

    def _pass_late(self, request: bytes, wait_s: float) -> None:
        time.sleep(wait_s)
        with suppress(OSError):
            self._exchange(request)

    def _exchange(self, request: bytes, *, whole: bool = True, sliced: bool = False) -> bytes:
        with socket.create_connection(self.server) as server:
            server.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            _send(server, request, sliced=sliced)
            return _whole_message(server) if whole else b""


@contextmanager
def hostile_proxy(
    server: tuple[str, int], *, share: float = 0.3, seed: int
) -> Iterator[HostileProxy]:
    """Run a proxy before a server."""
    proxy = HostileProxy(server, share, seed)
    thread = threading.Thread(target=proxy.run, daemon=True)
    thread.start()
    try:
        yield proxy
    finally:
        proxy.close()
        thread.join()


def _send(to: socket.socket, data: bytes, *, sliced: bool) -> None:
    if not sliced:
        to.sendall(data)
        return
    for i in range(len(data)):
        to.sendall(data[i : i + 1])


def _whole_message(of: socket.socket) -> bytes:
    """Read a request or answer with a length; nothing if the connection ends before."""
    data = b""
    while b"\r\n\r\n" not in data:
        more = of.recv(65536)
        if not more:
            return b""
        data += more
    head, _, rest = data.partition(b"\r\n\r\n")
    length = 0
    for line in head.split(b"\r\n")[1:]:
        name, _, value = line.partition(b":")
        if name.strip().lower() == b"content-length":
            length = int(value)
    parts = [rest]
    have = len(rest)
    while have < length:
        more = of.recv(65536)
        if not more:
            return b""
        parts.append(more)
        have += len(more)
    return head + b"\r\n\r\n" + b"".join(parts)
