"""How old an event is: by the steady clock within one start of the machine, else by the wall's."""

from dataclasses import dataclass
from datetime import datetime

from rindline._clock import Clock, boot_name
from rindline.outbox._file import Connection, OutboxFile

__all__ = ["Ages", "Moment"]

# A wall clock is set in steps; what it drifts by meanwhile is not worth a write.
_STEP_MS = 1_000


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment as both clocks of a station say it, and which start of the machine that was."""

    boot: str
    steady_ms: int
    wall_ms: int


class Ages:
    """Measures ages for one file, of what its ``table`` holds.

    The wall clock of a start may be set right while the machine runs: the file remembers, for
    each start, what the wall clock last said the steady clock's zero was. An event told before
    the clock was set has then its right age also after the next start.
    """

    def __init__(self, file: OutboxFile, clock: Clock, table: str = "events") -> None:
        self._file = file
        self._clock = clock
        self._table = table
        self._boot = boot_name()

    def now(self) -> Moment:
        """Give this moment."""
        steady_ms = int(self._clock.monotonic_s() * 1000)
        return Moment(self._boot, steady_ms, wall_ms(self._clock.now()))

    def remember(self) -> Moment:
        """Keep what the wall clock says of this start, and give this moment."""
        now = self.now()
        zero_ms = now.wall_ms - now.steady_ms
        known = self._zero_ms(now.boot)
        if known is None or abs(known - zero_ms) > _STEP_MS:
            with self._file.transaction() as connection:
                self._keep(connection, now.boot, zero_ms)
        return now

    def since_ms(self, told: Moment, now: Moment) -> int:
        """Give how long before ``now`` an event was told; never less than 0."""
        if told.boot == now.boot:
            return max(0, now.steady_ms - told.steady_ms)
        zero_ms = self._zero_ms(told.boot)
        told_wall_ms = told.wall_ms if zero_ms is None else zero_ms + told.steady_ms
        return max(0, now.wall_ms - told_wall_ms)

    def _zero_ms(self, boot: str) -> int | None:
        found = self._file.rows("SELECT wall_ms_at_0 FROM boots WHERE boot = ?", (boot,))
        return int(found[0][0]) if found else None

    def _keep(self, connection: Connection, boot: str, zero_ms: int) -> None:
        connection.execute("INSERT OR REPLACE INTO boots VALUES (?, ?)", (boot, zero_ms))
        # Starts of which nothing is left have nothing to say any more.
        connection.execute(
            f"DELETE FROM boots WHERE boot <> ? AND boot NOT IN (SELECT boot FROM {self._table})",  # noqa: S608 - a table of ours
            (boot,),
        )


def wall_ms(moment: datetime) -> int:
    """Give milliseconds since 1970."""
    return int(moment.timestamp() * 1000)
