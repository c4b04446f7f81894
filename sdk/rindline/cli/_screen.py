"""Where output goes: tables for people through rich, JSON for programs."""

import sys
from collections.abc import Iterable, Sequence
from io import TextIOWrapper
from typing import TYPE_CHECKING, Any

import msgspec

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress

__all__ = ["Screen"]

# Of more rows than these nobody waits for a drawn table.
_MANY_ROWS = 1000


class Screen:
    """Prints; rich is imported when the first line for people is."""

    def __init__(self) -> None:
        self._console: Console | None = None

    def json(self, answer: Any) -> None:
        """Print an answer as JSON, indented."""
        text = msgspec.json.format(msgspec.json.encode(answer), indent=2)
        sys.stdout.write(text.decode() + "\n")

    def line(self, text: str = "", style: str = "") -> None:
        """Print a line."""
        self._out().print(text, style=style or None, markup=False, highlight=False)

    def lines(self, texts: Iterable[str]) -> None:
        """Print lines that are drawn for :attr:`width`."""
        for text in texts:
            self.line(text.rstrip())

    @property
    def width(self) -> int:
        """How many characters a line has."""
        return self._out().width

    @property
    def draws(self) -> bool:
        """Whether block characters and lines can be written to standard output."""
        try:
            "\u2581\u2588\u2500\u2504\u2502\u00b0".encode(sys.stdout.encoding or "ascii")
        except UnicodeEncodeError:
            return False
        return True

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
        # Only here: rich takes time to load.
        from rindline.cli._tables import make_table, plain_lines  # noqa: PLC0415

        body = list(rows)
        if len(body) > _MANY_ROWS:
            sys.stdout.writelines(f"{line}\n" for line in plain_lines(title, columns, body))
        elif body:
            self._out().print(make_table(title, columns, body))
        elif none:
            self.line(f"{title}: {none}")

    def progress(self) -> "Progress":
        """Give a progress bar on standard error, which shows nothing if that is no terminal."""
        from rindline.cli._tables import make_progress  # noqa: PLC0415 - rich takes time to load

        return make_progress()

    def _out(self) -> "Console":
        if self._console is None:
            from rindline.cli._tables import make_console  # noqa: PLC0415 - rich takes time

            if isinstance(sys.stdout, TextIOWrapper):
                # A sign that the terminal cannot show must not cost the answer.
                sys.stdout.reconfigure(errors="replace")
            self._console = make_console()
        return self._console
