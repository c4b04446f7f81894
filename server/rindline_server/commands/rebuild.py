"""``rebuild``: make the tables that are derived of ledger and readings anew, from zero."""

import argparse
import sys

from rindline_server.app import open_service
from rindline_server.commands import ExitCode
from rindline_server.commands.progress import moving_bar
from rindline_server.settings import Settings

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument(
        "--check", action="store_true", help="change nothing; exit with 1 if anything differs"
    )


def run(arguments: argparse.Namespace, settings: Settings) -> int:
    """Rebuild, or only compare. Nothing can be told meanwhile."""
    with open_service(settings) as service:
        amiss = service.ready()
        if amiss is not None:
            print(f"rindline-server: {amiss}\nRun `rindline-server migrate`.", file=sys.stderr)
            return ExitCode.NOT_MIGRATED
        with moving_bar("folding the ledger, rolling up the air") as progress:
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
