"""Which symbols go on a label of one size, and how large: whole printer dots to a module.

A module that is not a whole number of dots prints with uneven edges, which is what makes small
symbols unreadable; so sizes are rounded to the printer's dots, never below the least allowed.
"""

from math import ceil, floor
from typing import NamedTuple

from rindline.labels._drawing import Drawn, draw, draw_elements
from rindline.labels._errors import LabelError
from rindline_schema.gs1 import Element
from rindline_schema.labels import LabelContent, LabelSize

__all__ = ["MARGIN_MM", "Placed", "place_bars", "place_squares"]

MARGIN_MM = 1.5

# GS1 General Specifications, symbol specification tables, from memory: the narrowest module of a
# linear symbol at all, and in general distribution, where the SSCC of a case is scanned.
_LEAST_BAR_MODULE_MM = 0.25
_LEAST_SSCC_MODULE_MM = 0.495
_SSCC_BAR_MM = 32


class Placed(NamedTuple):
    """A drawn symbol with its size in millimetres, quiet zones included."""

    drawn: Drawn
    width_mm: float
    height_mm: float


def place_squares(content: LabelContent, size: LabelSize, dots_per_mm: int) -> list[Placed]:
    """Give the square symbols that this size carries, the Data Matrix first."""
    dots = ceil(round(size.module_mm * dots_per_mm, 6))
    return [
        Placed(drawn, drawn.width * dots / dots_per_mm, drawn.height * dots / dots_per_mm)
        for drawn in (
            draw(symbol)
            for symbol in content.symbols
            if symbol.kind in size.symbols and symbol.kind != "gs1_128"
        )
    ]


def place_bars(content: LabelContent, size: LabelSize, dots_per_mm: int) -> list[Placed]:
    """Give the linear symbols that this size carries, from top to bottom, the SSCC last.

    What does not fit one symbol of the wanted width is spread over several, which GS1 allows.
    """
    symbol = next((s for s in content.symbols if s.kind == "gs1_128"), None)
    if symbol is None or "gs1_128" not in size.symbols:
        return []
    room_mm = size.width_mm - 2 * MARGIN_MM
    least = ceil(_LEAST_BAR_MODULE_MM * dots_per_mm)
    wanted = max(least, floor(size.bar_module_mm * dots_per_mm))
    rest = [element for element in symbol.elements if element.ai != "00"]
    placed = [
        _bar(drawn, room_mm, dots_per_mm, wanted, _LEAST_BAR_MODULE_MM, size.bar_mm)
        for drawn in _spread(rest, floor(room_mm * dots_per_mm / wanted))
    ]
    for element in symbol.elements:
        if element.ai == "00":
            drawn = draw_elements("gs1_128", [element], part=True)
            placed.append(
                _bar(drawn, room_mm, dots_per_mm, wanted, _LEAST_SSCC_MODULE_MM, _SSCC_BAR_MM)
            )
    return placed


def _spread(elements: list[Element], most_modules: int) -> list[Drawn]:
    """Put as many elements into each symbol as fit, in their order."""
    lines: list[Drawn] = []
    current: list[Element] = []
    for element in elements:
        drawn = draw_elements("gs1_128", [*current, element], part=True)
        if current and drawn.width > most_modules:
            current = [element]
            lines.append(draw_elements("gs1_128", current, part=True))
        else:
            current.append(element)
            lines[-1:] = [drawn] if len(current) > 1 or not lines else [lines[-1], drawn]
    return lines


def _bar(
    drawn: Drawn, room_mm: float, dots_per_mm: int, wanted: int, least_mm: float, bar_mm: int
) -> Placed:
    dots = min(wanted, floor(room_mm * dots_per_mm / drawn.width))
    if dots < ceil(round(least_mm * dots_per_mm, 6)):
        raise LabelError(
            f"The symbol {drawn.text} is {drawn.width} modules wide: with {least_mm} mm each it "
            f"does not fit {room_mm:g} mm. Choose a wider label."
        )
    return Placed(drawn, drawn.width * dots / dots_per_mm, bar_mm)
