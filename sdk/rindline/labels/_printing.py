"""Handing a label to the system's print service: CUPS or whatever provides ``lp``."""

import shutil
import subprocess

from rindline.labels._errors import LabelError, PrintError
from rindline.labels._rendering import LabelFormat
from rindline_schema.labels import LabelSize

__all__ = ["print_label"]

_PATIENCE_S = 30


def print_label(
    data: bytes,
    fmt: LabelFormat,
    size: LabelSize,
    *,
    printer: str | None = None,
    copies: int = 1,
    title: str = "label",
) -> str:
    """Queue a rendered label at its true size; gives what the print service answered.

    ``printer`` is the queue's name, the system's default one if left out. Raises
    :class:`PrintError` if the service is not there, does not answer, or refuses.
    """
    if fmt == "svg":
        raise LabelError("Print services do not take SVG: render a PDF or PNG.")
    if copies < 1 or (printer is not None and (not printer or printer.startswith("-"))):
        raise LabelError("Printing needs at least one copy and a printer's name.")
    program = shutil.which("lp")
    if program is None:
        raise PrintError("There is no lp on this machine: install CUPS, or write to a file.")
    command = [program, "-n", str(copies), "-t", title]
    command += [
        "-o",
        f"media=Custom.{size.width_mm}x{size.height_mm}mm",
        "-o",
        "print-scaling=none",
    ]
    if printer is not None:
        command += ["-d", printer]
    try:
        # No shell, and the label goes in as standard input: nothing of it is ever a command.
        ran = subprocess.run(  # noqa: S603
            [*command, "-"], input=data, capture_output=True, timeout=_PATIENCE_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise PrintError(f"The print service does not answer: {error}.") from error
    if ran.returncode != 0:
        raise PrintError(
            f"The print service refused: {ran.stderr.decode(errors='replace').strip()}"
        )
    return ran.stdout.decode(errors="replace").strip()
