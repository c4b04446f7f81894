"""What commands that walk the whole ledger share: a fit database, and a bar that moves."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from rindline_server.app import build_service
from rindline_server.service import Service
from rindline_server.settings import Settings

__all__ = ["moving_bar", "ready_service"]


def ready_service(settings: Settings) -> Service | None:
    """Give the service on a database that is fit for it; else say what is amiss, give None."""
    service = build_service(settings)
    amiss = service.ready()
    if amiss is None:
        return service
    print(f"rindline-server: {amiss}\nRun `rindline-server migrate`.", file=sys.stderr)
    return None


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
