"""One request and its answer, as far as the log, the metrics and every handler need to know."""

import re
import time
from collections.abc import Iterable
from secrets import token_hex
from typing import Any

__all__ = ["Exchange", "exchange_of"]

_SCOPE_KEY = "rindline"
_GIVEN_ID = re.compile(rb"[A-Za-z0-9._-]{8,64}")


class Exchange:
    """What is known of a request: its id, headers, the key's public prefix, its route, status.

    ``headers`` has lower-case names; those sent several times are joined by commas, as RFC 9110,
    section 5.3, has it. ``header_bytes`` is their size on the wire. ``note`` goes into the log: why
    an answer ended before its end.
    """

    __slots__ = (
        "header_bytes",
        "headers",
        "key",
        "method",
        "note",
        "request_id",
        "route",
        "started_s",
        "status",
    )

    def __init__(self, scope: dict[str, Any]) -> None:
        self.started_s = time.perf_counter()
        self.method: str = scope["method"]
        self.headers, self.header_bytes = _joined(scope["headers"])
        given = self.headers.get(b"x-request-id", b"")
        # A caller's own id helps to find its request in both logs; anything odd is not taken up.
        self.request_id = given.decode() if _GIVEN_ID.fullmatch(given) else token_hex(12)
        self.route = "(none)"
        self.status = 0
        self.key: str | None = None
        self.note: str | None = None
        scope[_SCOPE_KEY] = self


def exchange_of(scope: Any) -> Exchange:
    """Give the exchange a scope belongs to."""
    exchange: Exchange = scope[_SCOPE_KEY]
    return exchange


def _joined(headers: Iterable[tuple[bytes, bytes]]) -> tuple[dict[bytes, bytes], int]:
    joined: dict[bytes, bytes] = {}
    size = 0
    for name, value in headers:
        size += len(name) + len(value) + 4
        joined[name] = joined[name] + b", " + value if name in joined else value
    return joined, size
