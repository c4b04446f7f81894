"""Curves, bands and marks along time, drawn with characters: readable without colour."""

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from rindline_schema.answers import HourOfAir

__all__ = [
    "LABEL",
    "Averages",
    "Axis",
    "Drawing",
    "Limit",
    "averaged",
    "band",
    "curve",
    "letters",
    "marks",
]

LABEL = 8
"""Characters before the first cell of a row: its name, or a value of its scale."""

_LEAST_CELLS = 20
_MOST_CELLS = 92
_HEIGHT = 4
_EIGHTHS = "\u2581\u2582\u2583\u2584\u2585\u2586\u2587\u2588"
# A span this small is not blown up to the full height: it would look like weather.
_LEAST_SPAN = 1.0
_HALF = 0.5
_SHORT = timedelta(days=3)
_MOMENT = timedelta(seconds=1)


class Limit(NamedTuple):
    """A value that should not be passed, from one time to another."""

    value: float
    from_at: datetime
    until_at: datetime


class Drawing(NamedTuple):
    """The characters to draw with."""

    steps: str
    limit: str
    fills: str
    edge: str

    @classmethod
    def of(cls, *, blocks: bool) -> "Drawing":
        """Give block characters, or plain ones where they cannot be written."""
        if blocks:
            return cls(_EIGHTHS, "\u2504", "\u2500\u2550", "\u2502")
        return cls("_oO", "-", "-=", "|")


class Axis(NamedTuple):
    """Time in equal cells."""

    from_at: datetime
    until_at: datetime
    cells: int

    @classmethod
    def of(cls, from_at: datetime, until_at: datetime, width: int) -> "Axis":
        """Give the axis that fits a screen, and is no wider than an eye can follow."""
        cells = max(_LEAST_CELLS, min(_MOST_CELLS, width - LABEL))
        return cls(from_at, max(until_at, from_at + _MOMENT), cells)

    @property
    def step(self) -> timedelta:
        """How long a cell is."""
        return (self.until_at - self.from_at) / self.cells

    def place(self, at: datetime) -> float:
        """Give how many cells after the beginning a time lies."""
        return (at - self.from_at) / self.step

    def cell(self, at: datetime) -> int:
        """Give the cell of a time; what lies outside goes to the first or last."""
        return min(self.cells - 1, max(0, int(self.place(at))))

    def shares(self, from_at: datetime, until_at: datetime) -> Iterable[tuple[int, float]]:
        """Give the cells that a time touches, each with the part of it that is covered."""
        begin = max(0.0, self.place(from_at))
        end = min(float(self.cells), self.place(until_at))
        for cell in range(int(begin), self.cells):
            if cell >= end:
                return
            yield cell, min(cell + 1.0, end) - max(float(cell), begin)

    def ends(self) -> str:
        """Give the first day and the last, at their ends; of a short time with the time of day."""
        short = self.until_at - self.from_at < _SHORT
        first, last = (
            at.astimezone().strftime("%Y-%m-%d %H:%M" if short else "%Y-%m-%d")
            for at in (self.from_at, self.until_at)
        )
        if len(first) + len(last) >= self.cells:
            last = ""
        return " " * LABEL + first + last.rjust(self.cells - len(first))


class Averages(NamedTuple):
    """A quantity in each cell, None where it was not observed; ``seen`` is the part that was."""

    values: list[float | None]
    seen: list[float]


def averaged(
    axis: Axis, series: Iterable[HourOfAir], value_of: Callable[[HourOfAir], float | None]
) -> Averages:
    """Give the mean of a quantity in each cell."""
    sums = [0.0] * axis.cells
    weights = [0.0] * axis.cells
    for hour in series:
        value = value_of(hour)
        if value is None:
            continue
        for cell, share in axis.shares(hour.at, hour.at + timedelta(hours=hour.hours)):
            sums[cell] += value * share
            weights[cell] += share
    values = [
        total / weight if weight > 0 else None for total, weight in zip(sums, weights, strict=True)
    ]
    return Averages(values, weights)


def curve(
    axis: Axis, values: Sequence[float | None], limits: Sequence[Limit], drawing: Drawing
) -> list[str]:
    """Draw a curve of some rows with its scale, and limits as broken lines."""
    known = [value for value in values if value is not None]
    if not known:
        return []
    scale = [*known, *(limit.value for limit in limits)]
    low, high = min(scale), max(scale)
    high = max(high, low + _LEAST_SPAN)
    rows = [[" "] * axis.cells for _ in range(_HEIGHT)]

    def height_of(value: float) -> tuple[int, float]:
        height = min(_HEIGHT - 1e-9, (value - low) / (high - low) * _HEIGHT)
        return _HEIGHT - 1 - int(height), height % 1

    for limit in limits:
        row, _ = height_of(limit.value)
        for cell, _ in axis.shares(limit.from_at, limit.until_at):
            rows[row][cell] = drawing.limit
    for cell, value in enumerate(values):
        if value is not None:
            row, rest = height_of(value)
            rows[row][cell] = drawing.steps[int(rest * len(drawing.steps))]
    labels = [f"{high:.1f}", *[""] * (_HEIGHT - 2), f"{low:.1f}"]
    return [
        f"{label:>{LABEL - 2}} {drawing.edge}{''.join(row)}"
        for label, row in zip(labels, rows, strict=True)
    ]


def marks(
    name: str, axis: Axis, spans: Iterable[tuple[str, datetime, datetime]], seen: Sequence[float]
) -> str:
    """Draw a row of signs: those of the spans, ``!`` where two meet, ``.`` where less than half of
    a cell was seen.
    """
    row = ["." if part < _HALF else " " for part in seen]
    for sign, from_at, until_at in spans:
        for cell, _ in axis.shares(from_at, max(until_at, from_at + _MOMENT)):
            row[cell] = sign if row[cell] in (" ", ".", sign) else "!"
    return f"{name:<{LABEL}}{''.join(row)}"


def band(
    name: str,
    axis: Axis,
    stays: Sequence[tuple[str, str, datetime, datetime]],
    drawing: Drawing,
) -> str:
    """Draw stays as bands: each with its name where that fits, else with its letter."""
    owners = _owners(axis, [(from_at, until_at) for _, _, from_at, until_at in stays])
    row = [" "] * axis.cells
    for number, (letter, full, _, _) in enumerate(stays):
        cells = [cell for cell, owner in enumerate(owners) if owner == number]
        text = full if len(full) + 2 <= len(cells) else letter
        fill = drawing.fills[number % 2]
        edge = drawing.edge if len(cells) > len(text) else ""
        for cell, sign in zip(cells, edge + text + fill * axis.cells, strict=False):
            row[cell] = sign
    return f"{name:<{LABEL}}{''.join(row)}"


def _owners(axis: Axis, spans: Sequence[tuple[datetime, datetime]]) -> list[int | None]:
    """Give the span that each cell belongs to; one too short for a cell of its own gets one."""
    covered: list[tuple[float, int | None]] = [(0.0, None)] * axis.cells
    for number, (from_at, until_at) in enumerate(spans):
        for cell, share in axis.shares(from_at, max(until_at, from_at + _MOMENT)):
            if share > covered[cell][0]:
                covered[cell] = share, number
    owners = [number for _, number in covered]
    for number, (from_at, until_at) in enumerate(spans):
        middle = axis.cell(from_at + (until_at - from_at) / 2)
        # Unless it would in turn take the only cell of another.
        if number not in owners and owners.count(owners[middle]) > 1:
            owners[middle] = number
    return owners


def letters(name: str, axis: Axis, signs: Sequence[tuple[str, datetime]], order: str) -> list[str]:
    """Draw letters at their times; those of one cell stand above one another, by ``order``."""
    cells: list[set[str]] = [set() for _ in range(axis.cells)]
    for sign, at in signs:
        cells[axis.cell(at)].add(sign)
    stacks = [sorted(cell, key=order.index) for cell in cells]
    rows = []
    for level in range(max(map(len, stacks), default=0)):
        row = "".join(stack[level] if level < len(stack) else " " for stack in stacks)
        rows.append(f"{name if not level else '':<{LABEL}}{row}")
    return rows
