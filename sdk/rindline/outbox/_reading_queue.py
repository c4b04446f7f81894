"""The readings in an outbox: kept until they are acknowledged, set aside if they are refused."""

from collections.abc import Collection, Sequence
from dataclasses import astuple, dataclass

import msgspec

from rindline._clock import Clock
from rindline._readings import encode_reading
from rindline.outbox._ages import Ages, Moment
from rindline.outbox._file import Connection, OutboxFile
from rindline.outbox._reading_entries import ReadingSetAside
from rindline.outbox._sharing import SharedCommits, Waiting
from rindline_schema.answers import Reading
from rindline_schema.problems import Problem

__all__ = ["KeptReading", "ReadingQueue"]

_MOST_BYTES = 1024 * 1024

_readings = msgspec.json.Decoder(Reading)
_problems = msgspec.json.Decoder(Problem)


@dataclass(frozen=True, slots=True)
class KeptReading:
    """A queued reading as it goes out."""

    number: int
    body: bytes


@dataclass(slots=True, kw_only=True)
class _Waiting(Waiting):
    bodies: Sequence[bytes]
    told: Moment


class ReadingQueue:
    """The readings of one file. Safe with threads; what they tell at once is synced at once.

    Nothing is compared here: the same reading may be in the file twice, the server knows it again
    by sensor and time.
    """

    def __init__(self, file: OutboxFile, clock: Clock) -> None:
        self.ages = Ages(file, clock, "readings")
        self._file = file
        self._commits = SharedCommits[_Waiting](file, self._insert)

    def keep(self, readings: Sequence[Reading]) -> None:
        """Put readings on disk, all or none."""
        bodies = [encode_reading(reading) for reading in readings]
        self._commits.commit(_Waiting(bodies=bodies, told=self.ages.now()))

    def _insert(self, connection: Connection, waiting: _Waiting) -> None:
        told = astuple(waiting.told)
        for body in waiting.bodies:
            connection.execute(
                "INSERT INTO readings (state, reading, boot, steady_ms, wall_ms)"
                " VALUES ('queued', ?, ?, ?, ?)",
                (body, *told),
            )

    # --- sending ------------------------------------------------------------------------------

    def next_batch(self, limit: int, without: Collection[int] = ()) -> list[KeptReading]:
        """Give the readings that wait longest, at most about 1 MiB of them."""
        rows = self._file.rows(
            "SELECT number, reading FROM readings WHERE state = 'queued' ORDER BY number LIMIT ?",
            (limit + len(without),),
        )
        batch: list[KeptReading] = []
        size = 0
        for number, body in rows:
            if number in without:
                continue
            size += len(body)
            if len(batch) == limit or (batch and size > _MOST_BYTES):
                break
            batch.append(KeptReading(number, bytes(body)))
        return batch

    def settle(self, results: Sequence[tuple[int, Problem | None]]) -> None:
        """Forget what was acknowledged, set refused ones aside; one that may pass stays queued."""
        with self._file.transaction() as connection:
            for number, problem in results:
                if problem is None:
                    connection.execute("DELETE FROM readings WHERE number = ?", (number,))
                elif not problem.retryable:
                    connection.execute(
                        "UPDATE readings SET state = 'set_aside', problem = ? WHERE number = ?",
                        (msgspec.json.encode(problem), number),
                    )

    # --- looking, mending ---------------------------------------------------------------------

    def counts(self) -> tuple[int, int]:
        """Give how many are queued and how many set aside."""
        [(queued, set_aside)] = self._file.rows(
            "SELECT (SELECT count(*) FROM readings WHERE state = 'queued'),"
            " (SELECT count(*) FROM readings WHERE state = 'set_aside')"
        )
        return queued, set_aside

    def oldest_age_s(self) -> float | None:
        """Give how long the first of those queued has been here."""
        rows = self._file.rows(
            "SELECT boot, steady_ms, wall_ms FROM readings WHERE state = 'queued'"
            " ORDER BY number LIMIT 1"
        )
        return self.ages.since_ms(Moment(*rows[0]), self.ages.now()) / 1000 if rows else None

    def set_aside(self) -> list[ReadingSetAside]:
        """Give the refused readings, in the order they were told."""
        rows = self._file.rows(
            "SELECT number, reading, problem FROM readings WHERE state = 'set_aside'"
            " ORDER BY number"
        )
        return [
            ReadingSetAside(
                number=number,
                reading=_readings.decode(reading),
                problem=_problems.decode(problem),
            )
            for number, reading, problem in rows
        ]

    def resend(self) -> int:
        """Queue all that are set aside again; gives how many."""
        return self._change(
            "UPDATE readings SET state = 'queued', problem = NULL WHERE state = 'set_aside'"
        )

    def drop(self) -> int:
        """Forget all that are set aside; gives how many."""
        return self._change("DELETE FROM readings WHERE state = 'set_aside'")

    def _change(self, sql: str) -> int:
        with self._file.transaction() as connection:
            connection.execute(sql)
            [(count,)] = connection.execute("SELECT changes()").fetchall()
        return int(count)
