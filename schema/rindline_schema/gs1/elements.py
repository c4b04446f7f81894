"""Element strings: application identifiers and their values, as a symbol holds them."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from rindline_schema.gs1.identifiers import element_fault, identifier, measure_fault

__all__ = [
    "FNC1",
    "Element",
    "element_faults",
    "element_string",
    "element_text",
    "parse_elements",
]

FNC1 = "\x1d"
"""How a reader hands on the separator after an element of no predefined length."""

_SYMBOLOGIES = ("]d2", "]C1", "]Q3")
_LONGEST_IDENTIFIER = 4


class Element(NamedTuple):
    """One application identifier and its value."""

    ai: str
    value: str


def element_faults(elements: Iterable[Element]) -> list[str]:
    """Say all that is wrong with elements that shall stand in one symbol; empty if nothing is.

    Each by itself (format, check digit, date), and one with another: repeated, missing a
    companion, goods of variable measure without a measure.
    """
    found: list[str] = []
    present: dict[str, str] = {}
    for element in elements:
        fault = element_fault(*element)
        if fault is not None:
            found.append(fault)
        if element.ai in present:
            found.append(f"({element.ai}) stands there twice")
        present[element.ai] = element.value
    for ai in present:
        found.extend(_company_faults(ai, present))
    fault = measure_fault(present)
    if fault is not None:
        found.append(fault)
    return found


def _company_faults(ai: str, present: dict[str, str]) -> Iterable[str]:
    row = identifier(ai)
    if row is None:
        return
    for group in row.needs:
        if not any(other in present for other in group):
            yield f"({ai}) {row.title} must stand with {' or '.join(f'({x})' for x in group)}"
    for other in row.bars:
        if other in present:
            yield f"({ai}) {row.title} may not stand with ({other})"


def _in_order(elements: Sequence[Element], *, part: bool) -> list[Element]:
    """Put those of predefined length first: they need no separator; otherwise as they came."""
    faults = [] if part else element_faults(elements)
    if faults:
        raise ValueError("; ".join(faults))
    return sorted(elements, key=lambda element: not _is_predefined(element.ai))


def _is_predefined(ai: str) -> bool:
    row = identifier(ai)
    return row is not None and row.predefined


def element_string(elements: Sequence[Element], *, part: bool = False) -> str:
    """Write elements as a symbol holds them: :data:`FNC1` only where it is needed.

    The FNC1 that opens the symbol belongs to the symbol and is not in the string. ``part`` says
    that valid elements are spread over several symbols of one label, and these are some of them.
    Raises ValueError, with all that is wrong, for elements that do not make a valid string.
    """
    ordered = _in_order(elements, part=part)
    parts = []
    for i, (ai, value) in enumerate(ordered):
        parts.append(ai + value)
        if i < len(ordered) - 1 and not _is_predefined(ai):
            parts.append(FNC1)
    return "".join(parts)


def element_text(elements: Sequence[Element], *, part: bool = False) -> str:
    """Write elements for people, identifiers in brackets, in the order of the symbol.

    Raises ValueError as :func:`element_string` does.
    """
    return "".join(f"({ai}){value}" for ai, value in _in_order(elements, part=part))


def parse_elements(text: str) -> list[Element]:
    """Read what a reader hands on, with or without its symbology identifier (``]d2``, ``]C1``).

    Raises ValueError for an identifier not in use here, and for elements that are not valid.
    """
    rest = text[3:] if text.startswith(_SYMBOLOGIES) else text
    rest = rest.removeprefix(FNC1)
    found: list[Element] = []
    while rest:
        element, rest = _first_element(rest)
        found.append(element)
    faults = element_faults(found) if found else ["there is no element in it"]
    if faults:
        raise ValueError("; ".join(faults))
    return found


def _first_element(rest: str) -> tuple[Element, str]:
    for length in range(2, _LONGEST_IDENTIFIER + 1):
        row = identifier(rest[:length])
        if row is None:
            continue
        body = rest[length:]
        if row.predefined:
            value, after = body[: row.most], body[row.most :]
        else:
            value, _, after = body.partition(FNC1)
        # A separator after an element that needs none is allowed.
        return Element(row.ai, value), after.removeprefix(FNC1)
    raise ValueError(f"no application identifier in use here begins {rest[:4]!r}")
