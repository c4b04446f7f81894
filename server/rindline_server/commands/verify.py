"""``verify``: walk the ledger's hash chain and name the first event that is not as written."""

import argparse
import sys

from rindline_server.commands import ExitCode
from rindline_server.commands.long_work import moving_bar, ready_service
from rindline_server.settings import Settings

__all__ = ["add_arguments", "run"]


def add_arguments(_parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments: it has none."""


def run(_arguments: argparse.Namespace, settings: Settings) -> int:
    """Verify; exits with 1 if a fault was found."""
    service = ready_service(settings)
    if service is None:
        return ExitCode.NOT_MIGRATED
    with moving_bar("walking the ledger") as progress:
        verified = service.verify(progress)
    if verified.fault is not None:
        seq, detail = verified.fault
        print(f"the ledger is not what was written, first at seq {seq}: {detail}", file=sys.stderr)
        return ExitCode.FAILED
    print(f"{verified.events} events are as they were written; the last one's hash is")
    print(verified.hash.hex())
    return ExitCode.DONE
