"""One drainer a file: a lock that goes with the process that holds it, however it ends."""

import sys
import threading
from pathlib import Path
from typing import IO

from rindline.errors import OutboxError

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

__all__ = ["DrainLock"]


class DrainLock:
    """A lock on a file beside the outbox's own.

    Beside it, because closing any handle of SQLite's file would drop SQLite's locks on it.
    """

    def __init__(self, path: Path) -> None:
        self._path = path.with_name(path.name + "-drain")
        self._file: IO[bytes] | None = None
        self._gate = threading.Lock()

    def acquire(self) -> bool:
        """Take the lock if nobody has it, in this process or another."""
        with self._gate:
            if self._file is not None:
                return False
            try:
                file = self._path.open("ab")
            except OSError as error:
                raise OutboxError(
                    f"{self._path} cannot be opened ({error.strerror}), so nothing is sent."
                ) from error
            try:
                if sys.platform == "win32":
                    msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
                else:
                    fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                file.close()
                return False
            self._file = file
            return True

    def release(self) -> None:
        """Give the lock up; the file stays, or another process could lock a file that is gone."""
        with self._gate:
            if self._file is not None:
                self._file.close()
                self._file = None

    def held(self) -> bool:
        """Tell whether somebody has it."""
        if not self.acquire():
            return True
        self.release()
        return False
