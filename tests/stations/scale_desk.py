"""A scale that never stops writing, for commands that run beside it."""

import contextlib
import os
import select
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from rindline_schema.events import Event
from tests.stations.scale_player import FORMAT_TEXT, Terminal, line, terminal

_PATIENCE_S = 60


def until(holds: Callable[[], bool]) -> None:
    """Waits until something holds; gives up, and fails the test, only after a minute."""
    for _ in range(_PATIENCE_S * 100):
        if holds():
            return
        time.sleep(0.01)
    raise AssertionError("waited in vain")


@dataclass
class LiveScale:
    """Writes what lies on it every few milliseconds, now and then a line that is harmed."""

    pair: Terminal
    mass_g: int = 0
    harm_every: int = 23
    written: int = 0
    stop: threading.Event = field(default_factory=threading.Event)

    @property
    def options(self) -> list[str]:
        """What a command needs to read it."""
        return ["--port", self.pair.path, "--format", FORMAT_TEXT, "--still", "0"]

    def run(self) -> None:
        """Writes until it is stopped."""
        while not self.stop.is_set():
            if select.select([], [self.pair.master], [], 0.05)[1]:
                harm = b"\xff+0\n" if self.written % self.harm_every == 0 else b""
                with contextlib.suppress(OSError):
                    os.write(self.pair.master, harm + line(self.mass_g))
                self.written += 1
            time.sleep(0.002)

    def put(self, mass_g: int) -> None:
        """Something is put on, and swings: single lines of other masses, called unstable."""
        for swing_g in (mass_g // 3, mass_g * 2):
            os.write(self.pair.master, line(swing_g, stable=False))
        self.mass_g = mass_g

    def lift(self) -> None:
        """It is taken off, for long enough to be seen."""
        self.mass_g = 0
        seen = self.written
        until(lambda: self.written > seen + 8)


@contextlib.contextmanager
def live_scale(harm_every: int = 23) -> Iterator[LiveScale]:
    """Gives a scale that writes into a pseudo-terminal from a thread."""
    with terminal() as pair:
        scale = LiveScale(pair, harm_every=harm_every)
        thread = threading.Thread(target=scale.run, daemon=True)
        thread.start()
        try:
            yield scale
        finally:
            scale.stop.set()
            thread.join()


def kept(file: Path) -> list[Event]:
    """Gives all events in an outbox's file, in the order of their numbers; disturbs nobody."""
    if not file.exists():
        return []
    with contextlib.closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as connection:
        try:
            rows = connection.execute("SELECT event FROM events ORDER BY number").fetchall()
        except sqlite3.OperationalError:
            # It is just being made.
            return []
    return [msgspec.json.decode(body, type=Event) for (body,) in rows]
