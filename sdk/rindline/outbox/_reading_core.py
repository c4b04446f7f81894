"""What both outboxes of readings share: the file with its queue, and the views of it."""

from pathlib import Path

from rindline._clock import Clock, RealClock
from rindline._retries import RetryPolicy
from rindline.outbox._core import refuse_memory
from rindline.outbox._delivery import PATIENCE, Steps
from rindline.outbox._file import OutboxFile, open_sqlite
from rindline.outbox._layouts import READINGS
from rindline.outbox._lock import DrainLock
from rindline.outbox._reading_drain import ReadingDrain
from rindline.outbox._reading_entries import ReadingOutboxStatus
from rindline.outbox._reading_queue import ReadingQueue

__all__ = ["ReadingCore"]


class ReadingCore:
    """The parts of one outbox of readings."""

    def __init__(
        self, path: str | Path, *, clock: Clock | None, policy: RetryPolicy | None
    ) -> None:
        refuse_memory(path)
        self.clock = clock or RealClock()
        self.policy = policy or PATIENCE
        self.file = OutboxFile(Path(path), READINGS, connect=open_sqlite)
        self.queue = ReadingQueue(self.file, self.clock)
        self.lock = DrainLock(Path(path))

    def steps(self) -> Steps:
        """Begin to drain; only for who holds the lock."""
        return ReadingDrain(self.file, self.queue, self.clock).steps(self.policy)

    def queued(self) -> int:
        """Count the readings that wait."""
        return self.queue.counts()[0]

    def status(self) -> ReadingOutboxStatus:
        """Look at the file."""
        queued, set_aside = self.queue.counts()
        return ReadingOutboxStatus(
            outbox=self.file.outbox,
            queued=queued,
            set_aside=set_aside,
            draining=self.lock.held(),
            oldest_age_s=self.queue.oldest_age_s(),
            paused=self.file.about("paused"),
            last_error=self.file.about("last_error"),
            last_error_at=self.file.about("last_error_at"),
            last_sent_at=self.file.about("last_sent_at"),
        )
