"""Answers kept for the next who asks the same while the ledger's head stands still.

A code scanned by a queue of people is one question asked many times. The key of an answer says
all it depends on, the head among it, so a kept answer is never older than a fresh one would be.
"""

import threading
from collections import OrderedDict
from collections.abc import Hashable

__all__ = ["KeptAnswers"]

_MOST_BYTES = 16 * 1024 * 1024
_LARGEST_BYTES = 64 * 1024


class KeptAnswers:
    """The newest answers, up to 16 MiB in all, with their entity tags."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._answers: OrderedDict[Hashable, tuple[bytes, str]] = OrderedDict()
        self._bytes = 0

    def find(self, key: Hashable) -> tuple[bytes, str] | None:
        """Give the body and tag kept under a key."""
        with self._lock:
            return self._answers.get(key)

    def keep(self, key: Hashable, body: bytes, tag: str) -> None:
        """Keep a body and its tag; the oldest make room. Large bodies are not kept."""
        if len(body) > _LARGEST_BYTES:
            return
        with self._lock:
            if key in self._answers:
                return
            self._answers[key] = body, tag
            self._bytes += len(body)
            while self._bytes > _MOST_BYTES:
                _, (oldest, _) = self._answers.popitem(last=False)
                self._bytes -= len(oldest)
