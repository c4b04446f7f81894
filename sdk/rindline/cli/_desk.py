"""A person at a scale: the live weight, what is queued, a line to type in."""

import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from rindline._clock import Clock, RealClock
from rindline.cli._big_figures import big
from rindline.cli._figures import kilograms
from rindline.cli._keyboard import Keyboard
from rindline.outbox import Outbox, OutboxStatus
from rindline.stations import Expected, Scale, Standing

__all__ = ["Desk", "EndedError", "SkippedError", "opened_desk"]

_STATES = {
    "silent": "the scale says nothing",
    "disconnected": "NO SCALE",
    "below_zero": "below zero: set the scale to zero",
    "empty": "empty",
    "over": "more than the scale should bear",
    "unsettled": "...",
    "stable": "stands still",
    "taken": "taken: take it off",
}
_STATUS_EVERY_S = 1.0
_LOOK_S = 0.1


class EndedError(Exception):
    """No more input can come. ``unanswered`` is a doubt that nobody can settle now."""

    def __init__(self, unanswered: str = "") -> None:
        super().__init__(unanswered)
        self.unanswered = unanswered


class SkippedError(Exception):
    """The person entered an empty line instead of weighing."""


class Desk:
    """Shows and asks. Ctrl-C takes effect only between two steps, never within one."""

    def __init__(
        self, scale: Scale, outbox: Outbox, keyboard: Keyboard, clock: Clock | None = None
    ) -> None:
        self._scale = scale
        self._outbox = outbox
        self._keyboard = keyboard
        self._clock = clock or RealClock()
        self._live = sys.stdout.isatty()
        self._said: tuple[str, ...] = ()
        self._status: OutboxStatus | None = None
        self._status_at_s = 0.0
        self._interrupted = False
        self._note = ""

    def interrupt(self, number: int = 0, frame: FrameType | None = None) -> None:  # noqa: ARG002
        """End at the next safe moment: a signal handler."""
        self._interrupted = True

    def note(self, text: str) -> None:
        """Show what happened last; printed once where the display is not a terminal."""
        self._note = text
        if not self._live:
            print(text, flush=True)

    def ask(self, question: str) -> str:
        """Give the next line that is typed; raises :class:`EndedError` when no more can come."""
        while True:
            line = self._keyboard.line()
            if line is not None:
                return line.strip()
            if self._keyboard.ended:
                raise EndedError
            self._step(question)

    def weigh(self, what: str, expected: Expected | None = None) -> int:
        """Give the mass that stands, in grams, asking if it is not what is expected.

        Raises :class:`SkippedError` if the person enters an empty line instead.
        """
        self._scale.catch_up()
        while True:
            standing = self._step(f"{what} (Enter alone: not now)")
            self._heed_keyboard()
            if standing.state != "stable":
                continue
            mass_g = self._scale.taken()
            doubt = expected.doubt(mass_g) if expected is not None else None
            if doubt is None or self._agreed(doubt):
                return mass_g
            self.note("Not recorded. Take it off and weigh again.")
            self._scale.catch_up()

    def _heed_keyboard(self) -> None:
        # What is piped in is read when it is asked for. A person who scans another code here has
        # lost the thread: were it kept for later, this one's mass could be the other's.
        line = self._keyboard.line() if self._keyboard.is_terminal else None
        if line is None:
            return
        if not line.strip():
            raise SkippedError
        self.note(f"{line.strip()} was not taken: this one first, or Enter alone to leave it")

    def _agreed(self, doubt: str) -> bool:
        while True:
            try:
                answer = self.ask(f"{doubt} Take it all the same? y or n")
            except EndedError as ended:
                raise EndedError(doubt) from ended
            match answer.lower():
                case "y" | "yes":
                    return True
                case "n" | "no":
                    return False

    def _step(self, question: str) -> Standing:
        if self._interrupted:
            raise KeyboardInterrupt
        standing = self._scale.watch(_LOOK_S)
        now_s = self._clock.monotonic_s()
        if self._status is None or now_s - self._status_at_s >= _STATUS_EVERY_S:
            self._status = self._outbox.status()
            self._status_at_s = now_s
        if self._live:
            self._draw(standing, question)
        else:
            self._say(standing, question)
        return standing

    def _draw(self, standing: Standing, question: str) -> None:
        weight = "-" if standing.mass_g is None else kilograms(standing.mass_g)
        rows = ["", *big(f"{weight:>7}"), ""]
        rows[5] += "  kg"
        rows += [f"  {_STATES[standing.state]}  {standing.detail}".rstrip(), ""]
        rows += [f"  {queued_line(self._status)}", f"  {self._note}", ""]
        rows += [f"  {question}", f"  > {self._keyboard.typed}"]
        columns = os.get_terminal_size(sys.stdout.fileno()).columns or 80
        # Line by line over what was there: a cleared screen would flicker.
        text = "\x1b[K\n".join(part for row in rows for part in folded(row, columns))
        sys.stdout.write(f"\x1b[H{text}\x1b[K\x1b[J")
        sys.stdout.flush()

    def _say(self, standing: Standing, question: str) -> None:
        said = (question, standing.state, standing.detail)
        if said[:1] != self._said[:1]:
            print(question, flush=True)
        if said[1:] != self._said[1:] and standing.state in ("disconnected", "silent", "over"):
            print(f"{_STATES[standing.state]} {standing.detail}".rstrip(), flush=True)
        self._said = said


def queued_line(status: OutboxStatus | None) -> str:
    """Say what an outbox holds, in a line."""
    if status is None:
        return ""
    parts = [f"queued: {status.queued}"]
    if status.queued and status.oldest_age_s is not None:
        parts.append(f"the oldest for {status.oldest_age_s:.0f} s")
    if status.set_aside:
        parts.append(f"REFUSED, to be mended: {status.set_aside}")
    if status.paused:
        parts.append(f"PAUSED: {status.paused}")
    return ", ".join(parts)


def folded(row: str, columns: int) -> list[str]:
    """Break a row that is wider than the terminal, which would else scroll the display."""
    if len(row) < columns:
        return [row]
    lines, rest = [], row
    while len(rest) >= columns:
        cut = rest.rfind(" ", 3, columns - 1)
        cut = cut if cut > 0 else columns - 1
        lines.append(rest[:cut])
        rest = "  " + rest[cut:].lstrip()
    return [*lines, rest]


@contextmanager
def opened_desk(scale: Scale, outbox: Outbox) -> Iterator[Desk]:
    """Give a desk; keyboard, screen and Ctrl-C are as before when it is left."""
    live = sys.stdout.isatty()
    with Keyboard() as keyboard:
        desk = Desk(scale, outbox, keyboard)
        before = signal.signal(signal.SIGINT, desk.interrupt)
        try:
            if live:
                sys.stdout.write("\x1b[2J")
            yield desk
        finally:
            signal.signal(signal.SIGINT, before)
            if live:
                sys.stdout.write("\n\n")
                sys.stdout.flush()
