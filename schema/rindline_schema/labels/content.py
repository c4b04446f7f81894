"""What stands on a label, ready to be drawn or shown as text."""

from typing import Literal

from msgspec import Struct

from rindline_schema.gs1 import Element

__all__ = ["LabelContent", "LabelField", "LabelKind", "LabelMark", "LabelSymbol", "SymbolKind"]

LabelKind = Literal["wheel", "portion", "case"]
SymbolKind = Literal["datamatrix", "gs1_128", "qr"]


class _Part(Struct, kw_only=True, frozen=True, omit_defaults=True):
    """A part of a label."""


class LabelField(_Part, kw_only=True, frozen=True):
    """One statement: a machine's name for it, the words before it (may be empty), the text."""

    key: str
    text: str
    title: str = ""


class LabelMark(_Part, kw_only=True, frozen=True):
    """The identification mark, an oval: country, approval number, ``union`` (EC, EG ...)."""

    country: str
    number: str
    union: str = ""


class LabelSymbol(_Part, kw_only=True, frozen=True):
    """One symbol: ``text`` for people (identifiers in brackets), ``data`` as a reader gives it.

    ``elements`` are empty if it holds no element string but a bare code or a web address.
    """

    kind: SymbolKind
    text: str
    data: str
    elements: list[Element] = []


class LabelContent(_Part, kw_only=True, frozen=True):
    """A whole label.

    ``quantity_mm`` is the least height of the quantity's figures, 0 if no rule sets one.
    ``allergens`` are to be told apart from all else by the way they are set.
    """

    kind: LabelKind
    language: str
    title: str
    code_title: str
    code: str
    quantity: LabelField
    symbols: list[LabelSymbol]
    food_name: str = ""
    quantity_mm: int = 0
    fields: list[LabelField] = []
    allergens_title: str = ""
    allergens: list[str] = []
    mark: LabelMark | None = None
    business: list[str] = []
