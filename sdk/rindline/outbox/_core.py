"""What both outboxes share: the file with its queue and blocks, and the views of them."""

from collections.abc import Callable
from pathlib import Path

from rindline._clock import Clock, RealClock
from rindline._retries import RetryPolicy
from rindline.errors import InvalidInputError
from rindline.outbox._blocks import Blocks
from rindline.outbox._delivery import PATIENCE, Steps
from rindline.outbox._drain import Drain
from rindline.outbox._entries import OutboxStatus
from rindline.outbox._file import Connection, OutboxFile, open_sqlite
from rindline.outbox._layouts import EVENTS
from rindline.outbox._lock import DrainLock
from rindline.outbox._queue import Queue

__all__ = ["Core", "refuse_memory"]


def refuse_memory(path: str | Path) -> None:
    """Refuse SQLite's names for what is no file."""
    if str(path).startswith(":memory:") or not str(path):
        raise InvalidInputError("An outbox is a file: what is in memory does not outlast it.")


class Core:
    """The parts of one outbox."""

    def __init__(
        self,
        path: str | Path,
        *,
        clock: Clock | None,
        policy: RetryPolicy | None,
        connect: Callable[[Path], Connection] = open_sqlite,
        synchronous: str = "FULL",
    ) -> None:
        refuse_memory(path)
        self.clock = clock or RealClock()
        self.policy = policy or PATIENCE
        self.file = OutboxFile(Path(path), EVENTS, connect=connect, synchronous=synchronous)
        self.queue = Queue(self.file, self.clock)
        self.blocks = Blocks(self.file, self.clock)
        self.lock = DrainLock(Path(path))

    def steps(self) -> Steps:
        """Begin to drain; only for who holds the lock."""
        return Drain(self.file, self.queue, self.blocks, self.clock).steps(self.policy)

    def status(self) -> OutboxStatus:
        """Look at the file."""
        queued, set_aside, next_number = self.queue.counts()
        oldest = self.queue.next_batch(1, self.queue.ages.now())
        return OutboxStatus(
            outbox=self.file.outbox,
            queued=queued,
            set_aside=set_aside,
            next_number=next_number,
            waiting=self.queue.waiting(),
            codes=self.blocks.left(),
            draining=self.lock.held(),
            oldest_age_s=oldest[0].queued_ms / 1000 if oldest else None,
            paused=self.file.about("paused"),
            last_error=self.file.about("last_error"),
            last_error_at=self.file.about("last_error_at"),
            last_sent_at=self.file.about("last_sent_at"),
            codes_error=self.file.about("codes_error"),
        )
