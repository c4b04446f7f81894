"""Turns: of the threads of one process that would write, one after another, as they came.

The database's own lock is for processes. On SQLite whoever waits for that one looks again from
time to time, and may find it taken each time; here it is handed on.
"""

import threading
from collections import deque

__all__ = ["Turns"]


class Turns:
    """A lock that goes to whoever has waited longest."""

    def __init__(self) -> None:
        """Begin with nobody's turn."""
        self._lock = threading.Lock()
        self._is_taken = False
        self._waiting: deque[threading.Event] = deque()

    def take(self, timeout_s: float) -> bool:
        """Wait for a turn; False if none came in time."""
        with self._lock:
            if not self._is_taken:
                self._is_taken = True
                return True
            mine = threading.Event()
            self._waiting.append(mine)
        if mine.wait(timeout_s):
            return True
        with self._lock:
            if mine not in self._waiting:
                # It was handed on at the last moment.
                return True
            self._waiting.remove(mine)
            return False

    def end(self) -> None:
        """Hand the turn on."""
        with self._lock:
            if self._waiting:
                self._waiting.popleft().set()
            else:
                self._is_taken = False
