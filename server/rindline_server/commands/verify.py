"""``verify``: walk the ledger's hash chain and name the first event that is not as written."""

import argparse
import sys

from rindline_server.app import open_service
from rindline_server.commands import ExitCode
from rindline_server.commands.progress import moving_bar
from rindline_server.settings import Settings
from rindline_server.store.migrate import is_current

__all__ = ["add_arguments", "run"]


def add_arguments(_parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments: it has none."""


def run(_arguments: argparse.Namespace, settings: Settings) -> int:
    """Verify; exits with 1 if a fault was found, or if nothing guards the ledger any more."""
    if not is_current(settings.database_url):
        print("rindline-server: run `rindline-server migrate` first", file=sys.stderr)
        return ExitCode.NOT_MIGRATED
    with open_service(settings) as service, moving_bar("walking the ledger") as progress:
        amiss = service.ready()
        verified = service.verify(progress)
    if verified.fault is not None:
        seq, detail = verified.fault
        print(f"the ledger is not what was written, first at seq {seq}: {detail}", file=sys.stderr)
    else:
        print(f"{verified.events} events are as they were written; the last one's hash is")
        print(verified.hash.hex())
    if amiss is not None:
        print(f"rindline-server: {amiss}\nRun `rindline-server migrate`.", file=sys.stderr)
    return ExitCode.DONE if verified.fault is None and amiss is None else ExitCode.FAILED
