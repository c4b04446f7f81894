"""The commands of ``rindline-server``: a module each, in one list, loaded only when called.

A command's module has ``add_arguments(parser)`` and ``run(arguments, settings) -> int``, which
gives the exit code.
"""

from typing import NamedTuple

__all__ = ["COMMANDS", "Command", "ExitCode"]


class ExitCode:
    """What the exit codes mean; 2, for wrong arguments or settings, is argparse's own."""

    DONE = 0
    FAILED = 1
    USAGE = 2
    NOT_MIGRATED = 3


class Command(NamedTuple):
    """One command: the module that does it, and what it does in a line."""

    module: str
    summary: str


COMMANDS: dict[str, Command] = {
    "serve": Command("rindline_server.commands.serve", "Answer over HTTP."),
    "migrate": Command(
        "rindline_server.commands.migrate", "Bring the database to the newest revision."
    ),
    "verify": Command(
        "rindline_server.commands.verify", "Check that the ledger is what was written."
    ),
    "rebuild": Command(
        "rindline_server.commands.rebuild", "Fold the ledger anew into what is derived of it."
    ),
    "keys": Command("rindline_server.commands.keys", "Make, list and revoke keys."),
    "demo": Command(
        "rindline_server.commands.demo",
        "Tell twelve weeks of an invented dairy to a server of its own, then run a recall drill.",
    ),
    "export-openapi": Command(
        "rindline_server.commands.export_openapi",
        "Write the interface's description and its list of problems.",
    ),
}
