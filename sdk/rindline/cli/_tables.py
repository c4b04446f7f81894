"""Rich, and all that is asked of it; imported when the first line is printed."""

import os
import sys
from collections.abc import Iterator, Sequence

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console
from rich.progress import Progress
from rich.table import Table
from rich.text import Text

__all__ = ["make_console", "make_progress", "make_table", "plain_lines"]

# A table that is piped must not be squeezed into 80 columns: codes would be broken.
_PIPED_COLUMNS = 240


class _Console(Console):
    def on_broken_pipe(self) -> None:
        """Let the caller see it: rich would end the process with a code of its own."""
        raise BrokenPipeError


def make_console() -> Console:
    """Give a console on standard output: colour and width only as a terminal has them."""
    terminal = sys.stdout.isatty()
    piped = not terminal and "COLUMNS" not in os.environ
    return _Console(
        width=_PIPED_COLUMNS if piped else None, color_system="auto" if terminal else None
    )


def make_table(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    """Give a table; a column title that begins with ``>`` stands over figures."""
    table = Table(title=title, box=SIMPLE_HEAD, title_justify="left", title_style="bold")
    for number, column in enumerate(columns):
        figures = column.startswith(">")
        table.add_column(
            column.removeprefix(">"),
            justify="right" if figures else "left",
            overflow="fold",
            min_width=_code_width([row[number] for row in rows]),
        )
    for row in rows:
        # As text, so that square brackets in a note are not taken for markup.
        table.add_row(*(Text(cell) for cell in row))
    return table


def _code_width(cells: Sequence[str]) -> int:
    """Give the width of a column of codes: one broken over two lines cannot be read out or copied.

    Whatever has spaces in it may be broken there, so it claims nothing.
    """
    return max(0 if " " in cell else len(cell) for cell in cells)


def plain_lines(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Give the same table as lines of plain text: rich needs about a millisecond a row."""
    names = [column.removeprefix(">") for column in columns]
    widths = [max(map(cell_len, cells)) for cells in zip(names, *rows, strict=True)]

    def line(cells: Sequence[str]) -> str:
        padded = []
        for cell, width, column in zip(cells, widths, columns, strict=True):
            space = " " * (width - cell_len(cell))
            padded.append(space + cell if column.startswith(">") else cell + space)
        return "   ".join(padded).rstrip()

    yield title
    yield line(names)
    yield "-" * (sum(widths) + 3 * (len(widths) - 1))
    for row in rows:
        yield line(row)


def make_progress() -> Progress:
    """Give a progress bar on standard error, which shows nothing if that is no terminal."""
    console = Console(stderr=True)
    return Progress(console=console, transient=True, disable=not console.is_terminal)
