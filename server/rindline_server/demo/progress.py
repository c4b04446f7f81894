"""How far the telling is: a bar on standard error, or a few lines if that is no terminal."""

import sys
from collections.abc import Callable

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

__all__ = ["Bar"]

_LINES_WITHOUT_BAR = 5


class Bar:
    """A bar of ``total`` things of a sort (``events``); ``with`` gives what shows how many are."""

    def __init__(self, total: int, sort: str) -> None:
        self._total = total
        self._sort = sort
        self._said = 0
        console = Console(stderr=True)
        self._bar = Progress(
            TextColumn("Telling, {task.description}"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn(sort),
            TimeElapsedColumn(),
            console=console,
            disable=not console.is_terminal,
        )
        self._task = self._bar.add_task(f"no {sort} yet", total=total)

    def __enter__(self) -> Callable[[int, str], None]:
        self._bar.start()
        return self._show

    def __exit__(self, *_: object) -> None:
        self._bar.stop()

    def _show(self, done: int, week: str) -> None:
        self._bar.update(self._task, completed=done, description=week)
        part = done * _LINES_WITHOUT_BAR // self._total
        if self._bar.disable and part > self._said:
            self._said = part
            print(f"told {done} of {self._total} {self._sort}, {week}", file=sys.stderr, flush=True)
