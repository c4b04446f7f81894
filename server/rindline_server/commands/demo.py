"""``demo``: twelve weeks of an invented dairy and its air told to a real server, then asked about.

The story is told through the API by the SDK, each station with its own key: first the events, then
the readings of the sensors. The way back from one wedge, the air it lived in and a recall drill
follow. On a terminal the server then stays until Ctrl-C, so that there is something to look at;
without one, or with ``--once``, the command ends there.
"""

import argparse
import os
import signal
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import FrameType

from rindline_server.app import build_service
from rindline_server.commands import ExitCode
from rindline_server.demo import SMALL, WHOLE, Story, write_story
from rindline_server.demo.air_incidents import KNOCKED, KNOCKED_C
from rindline_server.demo.asking import ask
from rindline_server.demo.dates import LAST_DAY, date_of
from rindline_server.demo.own_server import (
    OwnServer,
    ServerFailedError,
    free_port,
    running_server,
)
from rindline_server.demo.story import OFFICE, STATIONS
from rindline_server.demo.telling import (
    AirTook,
    NotToldError,
    TellingTook,
    tell_air,
    tell_story,
)
from rindline_server.settings import Settings

__all__ = ["add_arguments", "run"]

_HOST = "127.0.0.1"
_INTERRUPTED = 130  # as shells have it
_ENDING = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument(
        "--small", action="store_true", help="six makes instead of forty, half-hourly readings"
    )
    parser.add_argument(
        "--once", action="store_true", help="end after the questions, also on a terminal"
    )
    parser.add_argument(
        "--port",
        type=int,
        help="port of the server; 0 picks a free one (default: 8040, if it is free)",
    )
    where = parser.add_mutually_exclusive_group()
    where.add_argument(
        "--database",
        type=Path,
        metavar="FILE",
        help="a new SQLite file, which is kept (default: a temporary one)",
    )
    where.add_argument("--keep", action="store_true", help="keep the temporary database")


def run(arguments: argparse.Namespace, settings: Settings) -> int:
    """Tell the story, run the drill, and serve on if somebody is there to look."""
    if arguments.database is not None and arguments.database.exists():
        print(
            f"rindline-server: {arguments.database} exists already; name a new file",
            file=sys.stderr,
        )
        return ExitCode.USAGE
    stays = not arguments.once and sys.stdin.isatty() and sys.stdout.isatty()
    # Whatever the environment says, the demo is by itself, on this machine.
    settings = Settings(host=_HOST, port=_port(arguments.port))
    try:
        with _stopped_by_signals(), _database(arguments) as database:
            url = f"sqlite:///{database.resolve()}"
            return _show(settings.but({"database_url": url}), arguments, database, stays=stays)
    except KeyboardInterrupt:
        print("rindline-server: interrupted", file=sys.stderr)
        return _INTERRUPTED
    except BrokenPipeError:
        # The reader (head, say) has seen enough. Nothing may be flushed into it at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return ExitCode.DONE
    except (ServerFailedError, NotToldError) as error:
        print(f"rindline-server: {error}", file=sys.stderr)
        return ExitCode.FAILED


def _port(asked: int | None) -> int:
    return asked or free_port(_HOST, Settings().port if asked is None else 0)


@contextmanager
def _stopped_by_signals() -> Iterator[None]:
    """Let a request to end stop the server, too, and the temporary folder go."""

    def interrupt(_number: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = {number: signal.signal(number, interrupt) for number in _ENDING}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@contextmanager
def _database(arguments: argparse.Namespace) -> Iterator[Path]:
    """Give the place of the new database."""
    if arguments.database is not None:
        arguments.database.parent.mkdir(parents=True, exist_ok=True)
        yield arguments.database
    elif arguments.keep:
        yield Path(tempfile.mkdtemp(prefix="rindline-demo-")) / "rindline.db"
    else:
        with tempfile.TemporaryDirectory(prefix="rindline-demo-") as folder:
            yield Path(folder) / "rindline.db"


def _show(settings: Settings, arguments: argparse.Namespace, database: Path, *, stays: bool) -> int:
    story = write_story(SMALL if arguments.small else WHOLE)
    keys = _prepare(settings)
    log = database.with_name(database.name + ".log")
    with running_server(settings, log) as server:
        _introduce(story, server.address)
        stations = {name: keys[name] for name in STATIONS}
        _report(tell_story(story, server.address, stations))
        _report_air(tell_air(story, server.address, stations))
        code = _ask(story, server.address, keys[OFFICE])
        if code == ExitCode.DONE and not stays:
            _look_further(story, server, keys[OFFICE], stays=False)
        elif code == ExitCode.DONE:
            # From the very moment it says so, Ctrl-C is the way to end it well.
            with suppress(KeyboardInterrupt):
                _look_further(story, server, keys[OFFICE], stays=True)
                server.wait()
    if arguments.keep or arguments.database is not None:
        print(f"\nThe database is kept: {database}")
        print(f"  RINDLINE_DATABASE_URL={settings.database_url} rindline-server serve")
    return code


def _prepare(settings: Settings) -> dict[str, str]:
    """Make the database, and a key for each station and the office."""
    # Loaded only here: the tools that migrate take their time to load.
    from rindline_server.store.migrate import upgrade  # noqa: PLC0415

    upgrade(settings.database_url)
    service = build_service(settings)
    keys = {
        site: service.add_key(f"station of {site}", "station", site=site)
        for site in STATIONS
        if site != OFFICE
    }
    keys[OFFICE] = service.add_key("office", "manager")
    return keys


def _introduce(story: Story, address: str) -> None:
    first, last = story.events[0].at.date(), max(event.at for event in story.events).date()
    print(
        f"Quillmere, an invented dairy with a ripening store and a cutting room, from {first} to "
        f"{last}:\n{len(story.events)} events, told by its stations to {address}.",
        flush=True,
    )


def _report(took: TellingTook) -> None:
    rate = took.events / took.seconds
    print(
        f"Told {took.events} events in {took.seconds:.1f} s, {rate:.0f} a second; none was refused."
        "\nThe store had no network for two weeks and told its part after the cutting room had told"
        f" what\nrests on it. Of {took.warnings} warnings meanwhile {took.open_discrepancies} still"
        " stands: a wheel arrived too light."
    )


def _report_air(took: AirTook) -> None:
    rate = took.readings / took.seconds
    print(
        f"Told {took.readings} readings of the sensors in {took.seconds:.1f} s, {rate:.0f} a "
        "second; none was refused.\nOnly then the sheet of a calibration was told: since "
        f"{KNOCKED.from_at.date()} the sensor of {KNOCKED.room} shows {KNOCKED_C} °C too much.",
        flush=True,
    )


def _ask(story: Story, address: str, key: str) -> int:
    """Ask about one piece, then run the drill; gives the first exit code that is not 0."""
    print(f"\n{story.portion_shop} asks where one wedge, {story.portion}, comes from.")
    code = ask(address, key, ["origin", story.portion])
    if code:
        return code
    print("\nAnd what air did it live in, from the hoop to the shop?")
    code = ask(address, key, ["conditions", story.portion])
    if code:
        return code
    print(
        f"\nThe farm rings about the milk of one delivery, {story.milk}. Where is it, and what "
        "became of it?"
    )
    reason = "The farm rang about this delivery."
    return ask(address, key, ["drill", story.milk, "--forward", "--reason", reason])


def _look_further(story: Story, server: OwnServer, key: str, *, stays: bool) -> None:
    print(f"\nLook at {server.address}/docs")
    if not stays:
        print("That is over now: on a terminal, without --once, the server stays to be looked at.")
        return
    print(
        "Or in another terminal:\n"
        f"  export RINDLINE_SERVER={server.address}\n"
        f"  export RINDLINE_KEY={key}\n"
        f"  rindline trace back {story.portion}\n"
        "  rindline discrepancies\n"
        "  rindline lots --state in_transit\n"
        "  rindline drills\n"
        f"  rindline conditions {story.portion} --picture wedge.svg\n"
        f"  rindline climate QM-R1 --from {date_of(0)} --until {date_of(LAST_DAY)} "
        "--picture r1.svg\n"
        "Ctrl-C ends the server.",
        flush=True,
    )
