"""One sync for what several threads tell at the same time."""

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

from rindline.errors import OutboxError
from rindline.outbox._file import Connection, OutboxFile

__all__ = ["SharedCommits", "Waiting"]


@dataclass(slots=True, kw_only=True)
class Waiting:
    """What one thread tells, until it is on disk, and what went wrong with it."""

    error: Exception | None = None
    done: bool = False


W = TypeVar("W", bound=Waiting)


class SharedCommits(Generic[W]):
    """Puts on disk what threads hand in; who comes during a sync goes with the next one.

    ``insert`` writes what one thread told, inside the transaction.
    """

    def __init__(self, file: OutboxFile, insert: Callable[[Connection, W], None]) -> None:
        self._file = file
        self._insert = insert
        self._gate = threading.Lock()
        self._committing = threading.Lock()
        self._waiting: list[W] = []

    def commit(self, waiting: W) -> None:
        """Return when it is on disk, or raise what went wrong: then nothing of it is."""
        with self._gate:
            self._waiting.append(waiting)
        with self._committing:
            if not waiting.done:
                with self._gate:
                    taken, self._waiting = self._waiting, []
                self._commit(taken)
        if waiting.error is not None:
            raise waiting.error

    def _commit(self, taken: list[W]) -> None:
        failure: BaseException | None = None
        try:
            with self._file.transaction() as connection:
                for waiting in taken:
                    self._insert(connection, waiting)
        except BaseException as error:
            failure = error
            raise
        finally:
            for waiting in taken:
                if failure is not None:
                    # One error for each thread: raising adds to it. Also an interrupt of this
                    # thread must not pass for success in the others.
                    kind = type(failure) if isinstance(failure, OutboxError) else OutboxError
                    waiting.error = kind(str(failure) or "Interrupted: nothing was told.")
                waiting.done = True
