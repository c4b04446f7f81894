"""Telling the story to a server through the SDK, each station with a key of its own."""

import sys
import time
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from typing import NamedTuple

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from rindline import Client
from rindline.errors import RindlineError
from rindline_schema.answers import Refused
from rindline_server.demo.incidents import told_on
from rindline_server.demo.story import OFFICE, Story

__all__ = ["NotToldError", "TellingTook", "tell_story"]

_LINES_WITHOUT_BAR = 5


class NotToldError(RuntimeError):
    """An event of the story was refused, or got no answer; the message says which and why."""


class TellingTook(NamedTuple):
    """How many events were told in how many seconds; the warnings; what is open at the end."""

    events: int
    seconds: float
    warnings: int
    open_discrepancies: int


def tell_story(story: Story, server: str, keys: Mapping[str, str]) -> TellingTook:
    """Tell every event by the station that tells it, in order; shows progress.

    ``keys`` holds a key for each of ``STATIONS``. Raises :class:`NotToldError`.
    """
    with ExitStack() as stack:
        clients = {name: stack.enter_context(Client(server, key)) for name, key in keys.items()}
        try:
            return _tell(story, clients)
        except RindlineError as error:
            raise NotToldError(str(error)) from error


def _tell(story: Story, clients: Mapping[str, Client]) -> TellingTook:
    started = time.perf_counter()
    warnings = done = 0
    with _Bar(len(story.events)) as show:
        for station, events in story.batches():
            for event, outcome in zip(events, clients[station].tell_many(events), strict=True):
                if isinstance(outcome, Refused):
                    problem = outcome.problem
                    kind = event.__struct_config__.tag
                    raise NotToldError(f"{kind} {event.id}: {problem.title}: {problem.detail}")
                warnings += len(outcome.warnings)
            done += len(events)
            show(done, f"week {max(told_on(events[-1]) // 7 + 1, 1):>2}")
    seconds = time.perf_counter() - started
    still_open = sum(1 for _ in clients[OFFICE].discrepancies())
    return TellingTook(done, seconds, warnings, still_open)


class _Bar:
    """A progress bar on standard error, or now and then a line if that is no terminal."""

    def __init__(self, total: int) -> None:
        self._total = total
        self._said = 0
        console = Console(stderr=True)
        self._bar = Progress(
            TextColumn("Telling, {task.description}"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("events"),
            TimeElapsedColumn(),
            console=console,
            disable=not console.is_terminal,
        )
        self._task = self._bar.add_task("week  1", total=total)

    def __enter__(self) -> Callable[[int, str], None]:
        self._bar.start()
        return self._show

    def __exit__(self, *_: object) -> None:
        self._bar.stop()

    def _show(self, done: int, week: str) -> None:
        self._bar.update(self._task, completed=done, description=week)
        part = done * _LINES_WITHOUT_BAR // self._total
        if self._bar.disable and part > self._said:
            self._said = part
            print(f"told {done} of {self._total} events, {week}", file=sys.stderr, flush=True)
