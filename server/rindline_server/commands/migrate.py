"""``migrate``: bring the database to the newest revision, or say where it stands."""

import argparse

from rindline_server.commands import ExitCode
from rindline_server.settings import Settings
from rindline_server.store.migrate import current, is_current, upgrade

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument(
        "--check",
        action="store_true",
        help=f"change nothing; exit with {ExitCode.NOT_MIGRATED} if there is something to do",
    )


def run(arguments: argparse.Namespace, settings: Settings) -> int:
    """Migrate. There is no way back down: restore a copy instead."""
    url = settings.database_url
    if arguments.check:
        ready = is_current(url)
        print("up to date" if ready else f"at revision {current(url) or 'none'}: to be migrated")
        return ExitCode.DONE if ready else ExitCode.NOT_MIGRATED
    before = current(url)
    upgrade(url)
    after = current(url)
    if before == after:
        print(f"up to date at revision {after}; the guards stand")
    else:
        print(f"migrated from revision {before or 'none'} to {after}; the guards stand")
    return ExitCode.DONE
