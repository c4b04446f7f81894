"""Label sizes in millimetres, and what fits on each."""

from typing import NamedTuple

from rindline_schema.labels.content import LabelKind, SymbolKind

__all__ = ["LABEL_SIZES", "LabelSize"]


class LabelSize(NamedTuple):
    """One size of label stock, upright as it is read.

    ``least_x_height_mm`` is how small a lower-case x may become: 1.2 mm, or 0.9 mm on packs whose
    largest surface is under 80 cm² (Regulation (EU) No 1169/2011, article 13). ``module_mm`` is
    the least size of a module in a square symbol, ``bar_module_mm`` the wanted width of a linear
    one's, ``bar_mm`` the height of its bars.
    """

    name: str
    width_mm: int
    height_mm: int
    kinds: tuple[LabelKind, ...]
    symbols: tuple[SymbolKind, ...]
    least_x_height_mm: float = 1.2
    module_mm: float = 0.375
    bar_module_mm: float = 0.375
    bar_mm: int = 13


_PIECES: tuple[LabelKind, ...] = ("wheel", "portion")
_CASES: tuple[LabelKind, ...] = ("case",)

LABEL_SIZES = {
    size.name: size
    for size in (
        LabelSize("40x30", 40, 30, _PIECES, ("datamatrix",), least_x_height_mm=0.9),
        LabelSize("62x40", 62, 40, _PIECES, ("datamatrix", "qr")),
        LabelSize("100x60", 100, 60, _PIECES, ("datamatrix", "gs1_128"), module_mm=0.5),
        LabelSize("100x100", 100, 100, _PIECES, ("datamatrix", "qr", "gs1_128"), module_mm=0.5),
        LabelSize(
            "100x150",
            100,
            150,
            _CASES,
            ("datamatrix", "gs1_128"),
            module_mm=0.5,
            bar_module_mm=0.5,
            bar_mm=16,
        ),
        LabelSize(
            "148x105",
            148,
            105,
            _CASES,
            ("datamatrix", "gs1_128"),
            module_mm=0.5,
            bar_module_mm=0.5,
        ),
    )
}
"""The sizes by name. The smallest is a consumer's label only on packs under 80 cm²."""
