"""Where output goes: tables for people through rich, JSON for programs."""

import os
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import msgspec

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress

__all__ = ["Screen"]

# A table that is piped must not be squeezed into 80 columns: codes would be broken.
_PIPED_COLUMNS = 240


class Screen:
    """Prints; rich is imported when the first table is."""

    def __init__(self) -> None:
        self._console: Console | None = None

    def json(self, answer: Any) -> None:
        """Print an answer as JSON, indented."""
        text = msgspec.json.format(msgspec.json.encode(answer), indent=2)
        sys.stdout.write(text.decode() + "\n")

    def line(self, text: str = "", style: str = "") -> None:
        """Print a line."""
        self._out().print(text, style=style or None, markup=False, highlight=False)

    def error(self, text: str) -> None:
        """Print a line to standard error."""
        sys.stderr.write(f"rindline: {text}\n")

    def facts(self, pairs: Iterable[tuple[str, str]]) -> None:
        """Print names and values, without those that have no value."""
        given = [(name, value) for name, value in pairs if value]
        width = max((len(name) for name, _ in given), default=0)
        for name, value in given:
            self.line(f"{name:<{width}}  {value}")

    def table(
        self, title: str, columns: Sequence[str], rows: Iterable[Sequence[str]], none: str = ""
    ) -> None:
        """Print a table; a column title that begins with ``>`` stands over figures.

        Without rows it prints ``none``, or nothing.
        """
        from rich.box import SIMPLE_HEAD  # noqa: PLC0415 - only when a table is printed
        from rich.table import Table  # noqa: PLC0415
        from rich.text import Text  # noqa: PLC0415

        body = [[Text(cell) for cell in row] for row in rows]
        if not body:
            if none:
                self.line(f"{title}: {none}")
            return
        table = Table(title=title, box=SIMPLE_HEAD, title_justify="left", title_style="bold")
        for column in columns:
            figures = column.startswith(">")
            table.add_column(
                column.removeprefix(">"),
                justify="right" if figures else "left",
                overflow="fold",
            )
        for row in body:
            table.add_row(*row)
        self._out().print(table)

    def progress(self) -> "Progress":
        """Give a progress bar on standard error, which shows nothing if that is no terminal."""
        from rich.console import Console  # noqa: PLC0415 - only when it is long work
        from rich.progress import Progress  # noqa: PLC0415

        console = Console(stderr=True)
        return Progress(console=console, transient=True, disable=not console.is_terminal)

    def _out(self) -> "Console":
        if self._console is None:
            from rich.console import Console  # noqa: PLC0415 - only when something is printed

            piped = not sys.stdout.isatty() and "COLUMNS" not in os.environ
            self._console = Console(
                width=_PIPED_COLUMNS if piped else None,
                color_system="auto" if sys.stdout.isatty() else None,
                soft_wrap=False,
            )
        return self._console
