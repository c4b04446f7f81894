"""The command line of the server: finds the command named, and leaves the rest to it."""

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from importlib.metadata import version

from rindline_server.commands import COMMANDS, ExitCode
from rindline_server.settings import Settings, SettingsError

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    # Only the command that is called is loaded, so that every other one can be slow to load.
    called = next((word for word in words if word in COMMANDS), None)
    parser = _parser(called)
    parsed = parser.parse_args(words)
    module = importlib.import_module(COMMANDS[parsed.command].module)
    try:
        code: int = module.run(parsed, Settings.from_environment(os.environ))
    except SettingsError as error:
        print(f"rindline-server: {error}", file=sys.stderr)
        return ExitCode.USAGE
    return code


def _parser(called: str | None) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="rindline-server", description="The server of Rindline.", allow_abbrev=False
    )
    parser.add_argument("--version", action="version", version=version("rindline"))
    commands = parser.add_subparsers(dest="command", required=True, metavar="command")
    for name, command in COMMANDS.items():
        own = commands.add_parser(name, help=command.summary, description=command.summary)
        if name == called:
            importlib.import_module(command.module).add_arguments(own)
    return parser


if __name__ == "__main__":
    sys.exit(main())
