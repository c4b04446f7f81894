"""Progress of commands that walk the whole ledger: a bar that moves on a terminal."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

__all__ = ["moving_bar"]


@contextmanager
def moving_bar(label: str) -> Iterator[Callable[[int, int], None]]:
    """Show progress on a terminal; gives what is told (events done, of how many)."""
    console = Console(stderr=True)
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(
        *columns, console=console, transient=True, disable=not console.is_terminal
    ) as bar:
        task = bar.add_task(label, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
