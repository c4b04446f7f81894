"""The writer: one at a time, many events a commit.

Requests put what they tell on a queue; the writer's thread takes all that waits, up to a limit,
tells it in one transaction under the ledger's head lock, commits, and only then answers. Several
server processes may each have a writer: the lock in the database keeps them one after another.

While nothing waits, the same thread does other work in pieces: rolling up the air.
"""

import logging
import queue
import threading
from collections.abc import Callable
from time import perf_counter

from rindline_server.ledger.apply import Context
from rindline_server.service.problems import ProblemError, problem_error
from rindline_server.service.telling import Unit, tell_units
from rindline_server.store import Store

__all__ = ["Writer"]

_LOG = logging.getLogger("rindline.writer")
_MOST_EVENTS_A_COMMIT = 1_000
_MOST_UNITS_WAITING = 2_000
_PAUSE_S = 0.02
_PAUSE_AFTER_S = 0.1
_LOOKS_AGAIN_S = 60.0
_NUDGE = object()


class Writer:
    """Tells what is put on its queue; see the module."""

    def __init__(
        self, store: Store, context: Callable[[], Context], work: Callable[[], bool]
    ) -> None:
        """Take the store, and a function that gives the rules' context at this moment.

        ``work`` does a piece of what else there is to do, and tells whether there may be more.
        """
        self._store = store
        self._context = context
        self._work = work
        self._has_work = True
        self._is_nudged = False
        # On SQLite other processes look only now and then whether they may write.
        self._pause_s = _PAUSE_S if store.dialect == "sqlite" else 0.0
        self._queue: queue.Queue[Unit | object | None] = queue.Queue()
        self._waiting = 0
        self._lock = threading.Lock()
        self._stopping = False
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Start the writer's thread."""
        self._thread = threading.Thread(target=self._run, name="rindline-writer", daemon=True)
        self._thread.start()

    @property
    def waiting(self) -> int:
        """How many requests wait to be told."""
        return self._waiting

    def submit(self, unit: Unit) -> None:
        """Queue a request; its future is done once its events are on disk, or refused.

        Raises ProblemError ``busy`` if too many wait already, ``stopping`` when stopping.
        """
        with self._lock:
            if self._stopping or self._thread is None:
                raise problem_error("stopping", "the server is stopping")
            if self._waiting >= _MOST_UNITS_WAITING:
                raise problem_error("busy", f"{self._waiting} requests wait already")
            # From here on nobody can cancel it: what was taken is told, whoever still listens.
            unit.future.set_running_or_notify_cancel()
            self._waiting += 1
            # Inside the lock, so that nothing is queued behind the mark that ends the thread.
            self._queue.put(unit)

    def nudge(self) -> None:
        """Say that there is other work to do."""
        if not self._is_nudged:
            self._is_nudged = True
            self._queue.put(_NUDGE)

    def stop(self, timeout_s: float) -> None:
        """Take no more, tell what was taken, and end the thread."""
        with self._lock:
            self._stopping = True
            self._queue.put(None)
        if self._thread is not None:
            self._thread.join(timeout_s)

    def _run(self) -> None:
        while (first := self._next()) is not None:
            units = [first]
            ends = self._gather(units)
            self._tell(units)
            with self._lock:
                self._waiting -= len(units)
            if ends:
                return

    def _next(self) -> Unit | None:
        """Wait for something to tell, working meanwhile; None at the end mark."""
        pause_s = worked_s = 0.0
        while True:
            try:
                found = self._queue.get(timeout=pause_s if self._has_work else _LOOKS_AGAIN_S)
            except queue.Empty:
                began = perf_counter()
                self._has_work = self._work()
                worked_s += perf_counter() - began
                pause_s = 0.0
                if worked_s >= _PAUSE_AFTER_S:
                    pause_s, worked_s = self._pause_s, 0.0
                continue
            if isinstance(found, Unit):
                return found
            if found is None:
                return None
            self._is_nudged = False
            self._has_work = True

    def _gather(self, units: list[Unit]) -> bool:
        """Take what else waits, up to the limit; tell whether the end mark was met."""
        events = len(units[0].items)
        while events < _MOST_EVENTS_A_COMMIT:
            try:
                found = self._queue.get_nowait()
            except queue.Empty:
                return False
            if found is None:
                return True
            if isinstance(found, Unit):
                units.append(found)
                events += len(found.items)
            else:
                self._is_nudged = False
                self._has_work = True
        return False

    def _tell(self, units: list[Unit]) -> None:
        try:
            with self._store.writing() as tx:
                answers = tell_units(tx, units, self._context())
                self._has_work = self._has_work or tx.has_marked
        except Exception as error:  # noqa: BLE001 - whatever it is, callers must be answered
            if len(units) == 1 or self._store.is_busy(error):
                for unit in units:
                    self._fail(unit, error)
                return
            # One request must not fail the others that happened to wait with it.
            _LOG.exception("a commit of %d requests failed; telling them one by one", len(units))
            for unit in units:
                self._tell([unit])
            return
        for unit, outcomes in zip(units, answers, strict=True):
            unit.future.set_result(outcomes)

    def _fail(self, unit: Unit, error: Exception) -> None:
        busy = self._store.is_busy(error)
        _LOG.error("a commit failed", exc_info=error)
        problem: ProblemError = (
            problem_error("busy", "the database is locked by somebody else")
            if busy
            else problem_error("internal", "the events could not be written")
        )
        unit.future.set_exception(problem)
