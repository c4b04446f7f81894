"""``rebuild``: fold the ledger from zero into the tables that are derived of it."""

import argparse
import sys

from rindline_server.commands import ExitCode
from rindline_server.commands.long_work import moving_bar, ready_service
from rindline_server.settings import Settings

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument(
        "--check", action="store_true", help="change nothing; exit with 1 if anything differs"
    )


def run(arguments: argparse.Namespace, settings: Settings) -> int:
    """Rebuild, or only compare. Nothing can be told meanwhile."""
    service = ready_service(settings)
    if service is None:
        return ExitCode.NOT_MIGRATED
    with moving_bar("folding the ledger") as progress:
        rebuilt = service.rebuild(progress, check=arguments.check)
    for table, before, after in rebuilt.differences:
        print(f"{table} differs: {before} rows before, {after} rebuilt", file=sys.stderr)
    if not rebuilt.differences:
        print(f"{rebuilt.events} events fold to the very tables that are there")
        return ExitCode.DONE
    if arguments.check:
        print("nothing was changed; `rindline-server rebuild` puts it right", file=sys.stderr)
        return ExitCode.FAILED
    print(f"{rebuilt.events} events were folded; the tables named are as the ledger says now")
    return ExitCode.DONE
