"""Setting a label: one typst document gives SVG, PNG and PDF.

Texts reach the document as data, never as markup. Only the fonts of the ``[labels]`` extra are
used, so a label looks the same on every machine.
"""

import re
import threading
from functools import cache
from importlib import import_module, resources
from typing import Any, Literal, TypeAlias

import msgspec

from rindline.labels._errors import LabelError
from rindline.labels._placing import MARGIN_MM, Placed, place_bars, place_squares
from rindline_schema.labels import LABEL_SIZES, LabelContent, LabelSize

__all__ = ["LabelFormat", "render_label"]

LabelFormat: TypeAlias = Literal["svg", "png", "pdf"]

_MM_PER_INCH = 25.4
# A condensed face tells I, l and 1 apart and gets a third more on a small label.
_FAMILY, _STRETCH = "IBM Plex Sans", 0.75
_DOTS = (8, 12, 24)
# A compiler does one piece of work at a time, and it refuses a second thread meanwhile.
_TURN = threading.Lock()
_TOO_SMALL = re.compile(r"label too small: ([^\"]*)")
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]")


def render_label(
    content: LabelContent,
    size: str | LabelSize = "62x40",
    fmt: LabelFormat = "pdf",
    *,
    dots_per_mm: int = 8,
) -> bytes:
    """Render a label as SVG, PNG or PDF.

    ``dots_per_mm`` is the printer's: 8 (203 dpi), 12 (300 dpi) or 24 (600 dpi); a PNG has just so
    many pixels. Raises :class:`LabelError` if the size does not carry this kind of label or not
    all of its text, or if the ``[labels]`` extra is not installed.
    """
    if fmt not in ("svg", "png", "pdf"):
        raise LabelError(f"There is no format {fmt!r}: use svg, png or pdf.")
    if dots_per_mm not in _DOTS:
        raise LabelError(f"A printer has {', '.join(map(str, _DOTS))} dots a mm here.")
    stock = _stock(content, size)
    try:
        squares = place_squares(content, stock, dots_per_mm)
        bars = place_bars(content, stock, dots_per_mm)
        return _typeset(_document(content, stock, squares, bars), fmt, dots_per_mm)
    except ModuleNotFoundError as error:
        raise LabelError(
            f"Labels need {error.name}: install them with pip install 'rindline[labels]'."
        ) from error


def _stock(content: LabelContent, size: str | LabelSize) -> LabelSize:
    stock = LABEL_SIZES.get(size) if isinstance(size, str) else size
    if stock is None:
        raise LabelError(f"There is no size {size!r}: use {', '.join(LABEL_SIZES)}, or your own.")
    if content.kind not in stock.kinds:
        names = ", ".join(s.name for s in LABEL_SIZES.values() if content.kind in s.kinds)
        raise LabelError(f"Size {stock.name} is not for a {content.kind}: use {names}.")
    return stock


def _document(
    content: LabelContent, size: LabelSize, squares: list[Placed], bars: list[Placed]
) -> dict[str, str]:
    """Give what the typst document reads from its inputs, as JSON."""
    data = {
        "label": _printable(msgspec.to_builtins(content)),
        "width_mm": size.width_mm,
        "height_mm": size.height_mm,
        "margin_mm": MARGIN_MM,
        "least_x_height_mm": size.least_x_height_mm,
        "font": _FAMILY,
        "stretch": _STRETCH,
        "squares": [_symbol(placed) for placed in squares],
        "bars": [_symbol(placed) for placed in bars],
    }
    return {"data": msgspec.json.encode(data).decode()}


def _symbol(placed: Placed) -> dict[str, Any]:
    return {
        "svg": placed.drawn.svg,
        "text": placed.drawn.text,
        "width_mm": placed.width_mm,
        "height_mm": placed.height_mm,
        "quiet_mm": placed.drawn.quiet * placed.width_mm / placed.drawn.width,
    }


def _printable(value: Any) -> Any:
    """Put a space in place of control characters and line breaks, which have no glyph."""
    if isinstance(value, str):
        return _CONTROL.sub(" ", value)
    if isinstance(value, list):
        return [_printable(item) for item in value]
    if isinstance(value, dict):
        return {key: _printable(item) for key, item in value.items()}
    return value


@cache
def _font_folder() -> str:
    package = import_module("fontpkg_ibm_plex_sans_condensed")
    return str(package.ROOT / "files")


@cache
def _source() -> bytes:
    return resources.files("rindline.labels").joinpath("label.typ").read_bytes()


@cache
def _compiler() -> Any:
    # Kept, because finding the fonts takes longer than setting a label.
    import typst  # noqa: PLC0415 - only whoever draws labels has it

    return typst.Compiler(font_paths=[_font_folder()], ignore_system_fonts=True)


def _typeset(inputs: dict[str, str], fmt: LabelFormat, dots_per_mm: int) -> bytes:
    import typst  # noqa: PLC0415

    try:
        with _TURN:
            made = _compiler().compile(
                _source(),
                format=fmt,
                ppi=dots_per_mm * _MM_PER_INCH,
                sys_inputs=inputs,
                timestamp=0,
            )
    except typst.TypstError as error:
        told = _TOO_SMALL.search(str(error))
        if told is None:
            raise
        raise LabelError(f"The label is too small: {told[1]}. Choose a larger one.") from None
    if not isinstance(made, bytes):
        raise LabelError("The label does not fit one page: choose a larger size.")
    return made
