"""Telling the story to a server through the SDK, each station with a key of its own."""

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from typing import NamedTuple

from rindline import Client
from rindline.errors import RindlineError
from rindline_schema.answers import Refused
from rindline_schema.events import Event
from rindline_server.demo.air import count_readings, readings_of
from rindline_server.demo.incidents import told_on
from rindline_server.demo.progress import Bar
from rindline_server.demo.scale import Scale
from rindline_server.demo.story import OFFICE, STATIONS, Story

__all__ = ["AirTook", "NotToldError", "TellingTook", "tell_air", "tell_story"]


class NotToldError(RuntimeError):
    """Something of the story was refused, or got no answer; the message says which and why."""


class TellingTook(NamedTuple):
    """How many events were told in how many seconds; the warnings; what is open at the end."""

    events: int
    seconds: float
    warnings: int
    open_discrepancies: int


class AirTook(NamedTuple):
    """How many readings were told in how many seconds."""

    readings: int
    seconds: float


def tell_story(story: Story, server: str, keys: Mapping[str, str]) -> TellingTook:
    """Tell every event by the station that tells it, in order; shows progress.

    ``keys`` holds a key for each of ``STATIONS``. Raises :class:`NotToldError`.
    """
    with _clients(server, keys) as clients:
        return _tell(story, clients)


def tell_air(story: Story, server: str, keys: Mapping[str, str]) -> AirTook:
    """Tell all readings by the stations of their sites, then the sheet of the calibration.

    Shows progress. Raises :class:`NotToldError`.
    """
    started = time.perf_counter()
    done = 0
    with _clients(server, keys) as clients:
        with Bar(count_readings(story.scale), "readings") as show:
            for station in STATIONS:
                done += _tell_readings(station, story.scale, clients[station], show, done)
        seconds = time.perf_counter() - started
        _tell_events(clients[OFFICE], [story.calibration])
    return AirTook(done, seconds)


@contextmanager
def _clients(server: str, keys: Mapping[str, str]) -> Iterator[dict[str, Client]]:
    """Hold a client of each station."""
    with ExitStack() as stack:
        clients = {name: stack.enter_context(Client(server, key)) for name, key in keys.items()}
        try:
            yield clients
        except RindlineError as error:
            raise NotToldError(str(error)) from error


def _tell(story: Story, clients: Mapping[str, Client]) -> TellingTook:
    started = time.perf_counter()
    warnings = done = 0
    with Bar(len(story.events), "events") as show:
        for station, events in story.batches():
            warnings += _tell_events(clients[station], events)
            done += len(events)
            show(done, f"week {max(told_on(events[-1]) // 7 + 1, 1):>2}")
    seconds = time.perf_counter() - started
    still_open = sum(1 for _ in clients[OFFICE].discrepancies())
    return TellingTook(done, seconds, warnings, still_open)


def _tell_events(client: Client, events: Sequence[Event]) -> int:
    """Tell events at one go; gives the number of warnings."""
    warnings = 0
    for event, outcome in zip(events, client.tell_many(events), strict=True):
        if isinstance(outcome, Refused):
            problem = outcome.problem
            kind = event.__struct_config__.tag
            raise NotToldError(f"{kind} {event.id}: {problem.title}: {problem.detail}")
        warnings += len(outcome.warnings)
    return warnings


def _tell_readings(
    station: str, scale: Scale, client: Client, show: Callable[[int, str], None], done: int
) -> int:
    """Tell what the sensors of a site showed, after so many of others; gives how many."""
    answer = client.tell_readings(
        readings_of(station, scale),
        progress=lambda told: show(done + told, f"sensors of {station}"),
    )
    for refused in answer.refused:
        problem = refused.problem
        raise NotToldError(
            f"reading {refused.index} of {station}: {problem.title}: {problem.detail}"
        )
    return answer.recorded + answer.repeated
