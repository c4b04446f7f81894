"""A server for the outbox's tests over HTTP: in memory, behind a real socket.

Whatever offers ``address``, ``told()`` and ``blocks()`` can take its place, the real server too.
"""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Protocol
from urllib.parse import parse_qsl, urlsplit

from rindline._clock import RealClock
from rindline._wire import Request
from rindline.testing import FakeServer
from rindline_schema.answers import CodeBlockState
from rindline_schema.events import Event

__all__ = ["StationServer", "serving"]


class StationServer(Protocol):
    """What the tests ask of a server: where it is, what it recorded in order, its code blocks."""

    address: tuple[str, int]

    def told(self) -> list[Event]: ...

    def blocks(self) -> list[CodeBlockState]: ...


class _InMemory:
    def __init__(self, fake: FakeServer, address: tuple[str, int]) -> None:
        self.address = address
        self._fake = fake

    def told(self) -> list[Event]:
        return [recorded.event for recorded in self._fake.told]

    def blocks(self) -> list[CodeBlockState]:
        return self._fake._stations.blocks().blocks


@contextmanager
def serving() -> Iterator[StationServer]:
    """Serve from memory on a free port of this machine."""
    fake = FakeServer(clock=RealClock())

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"
        # Or a small answer waits for the acknowledgement of its head.
        wbufsize = -1

        def _answer(self) -> None:
            length = int(self.headers.get("content-length") or 0)
            body = self.rfile.read(length)
            if len(body) < length:
                self.close_connection = True
                return
            parts = urlsplit(self.path)
            query = tuple(parse_qsl(parts.query))
            headers = {name.lower(): value for name, value in self.headers.items()}
            request = Request(self.command, parts.path, query, body, headers)
            response = fake.send(request, 1.0)
            self.send_response(response.status)
            for name, value in response.headers.items():
                self.send_header(name, value)
            self.send_header("content-length", str(len(response.body)))
            self.end_headers()
            self.wfile.write(response.body)
            self.wfile.flush()

        do_GET = do_POST = _answer  # noqa: N815 - the library's names

        def log_message(self, *_said: Any) -> None:
            pass

    class Server(ThreadingHTTPServer):
        daemon_threads = True

        def handle_error(self, *_said: Any) -> None:
            """Say nothing: connections are broken on purpose."""

    server = Server(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
    thread.start()
    try:
        yield _InMemory(fake, ("127.0.0.1", server.server_address[1]))
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
