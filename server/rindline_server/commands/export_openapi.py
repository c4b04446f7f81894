"""``export-openapi``: write the OpenAPI document and the list of problems, or say they're stale."""

import argparse
import sys
from pathlib import Path

from rindline_server.commands import ExitCode
from rindline_server.http.openapi import document_text, errors_text
from rindline_server.settings import Settings

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument(
        "folder",
        type=Path,
        nargs="?",
        help="where to write openapi.json and ERRORS.md; the document goes to standard output "
        "if it is left out",
    )
    parser.add_argument(
        "--check", action="store_true", help="write nothing; fail if the files are stale"
    )


def run(arguments: argparse.Namespace, _settings: Settings) -> int:
    """Write or check the files."""
    if arguments.folder is None:
        sys.stdout.write(document_text().decode())
        return ExitCode.DONE
    texts = {"openapi.json": document_text(), "ERRORS.md": errors_text().encode()}
    stale = False
    for name, text in texts.items():
        file: Path = arguments.folder / name
        if not arguments.check:
            file.write_bytes(text)
            print(f"wrote {file}")
        elif not file.exists() or file.read_bytes() != text:
            print(f"{file} is stale: run `rindline-server export-openapi`", file=sys.stderr)
            stale = True
    return ExitCode.FAILED if stale else ExitCode.DONE
