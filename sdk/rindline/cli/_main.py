"""Where the command line begins and ends: arguments, key, errors, exit code."""

import os
import sys
from collections.abc import Sequence
from pathlib import Path

from rindline._wire import Transport
from rindline.cli._arguments import build_parser
from rindline.cli._exits import DONE, INTERRUPTED, exit_code
from rindline.errors import InvalidInputError, RindlineError

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None, *, transport: Transport | None = None) -> int:
    """Run ``rindline``; gives the exit code.

    ``arguments`` are the process's own if left out; ``transport`` stands in for HTTP, for tests.
    """
    parsed = build_parser(os.environ.get("RINDLINE_SERVER")).parse_args(arguments)

    # After parsing, so that --help and a mistyped option answer at once.
    from rindline._retries import RetryPolicy  # noqa: PLC0415
    from rindline.cli._commands import COMMANDS  # noqa: PLC0415
    from rindline.cli._screen import Screen  # noqa: PLC0415
    from rindline.client import Client  # noqa: PLC0415

    screen = Screen()
    try:
        key = _key(parsed.key_file)
        retries = RetryPolicy(deadline_s=parsed.timeout)
        with Client(parsed.server, key, retries=retries, transport=transport) as client:
            code = COMMANDS[parsed.command](client, screen, parsed)
        sys.stdout.flush()
    except RindlineError as error:
        screen.error(" ".join([str(error), *getattr(error, "__notes__", [])]))
        return exit_code(error)
    except KeyboardInterrupt:
        screen.error("interrupted; what was told before stays told")
        return INTERRUPTED
    except BrokenPipeError:
        # The reader (head, say) has seen enough. Nothing may be flushed into it at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    return code


def _key(file: Path | None) -> str | None:
    if file is None:
        return os.environ.get("RINDLINE_KEY") or None
    try:
        return file.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InvalidInputError(f"The key file {file} cannot be read: {error}.") from error
