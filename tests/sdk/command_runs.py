"""What a run of the command line gave, and how its tables are read."""

from collections.abc import Callable
from typing import NamedTuple

__all__ = ["Ran", "Run", "has_row"]


class Ran(NamedTuple):
    """Exit code, standard output, standard error."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]


def has_row(text: str, *cells: str) -> bool:
    """Tell whether one line of the text has all the cells, in their order."""
    for line in text.splitlines():
        place = 0
        for cell in cells:
            place = line.find(cell, place)
            if place < 0:
                break
            place += len(cell)
        else:
            return True
    return False
