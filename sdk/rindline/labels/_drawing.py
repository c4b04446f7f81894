"""Drawing symbols, and proving that what was drawn is what was meant."""

from typing import Any, NamedTuple

from rindline.labels._errors import LabelError
from rindline_schema.gs1 import Element, element_string, element_text
from rindline_schema.labels import LabelSymbol, SymbolKind

__all__ = ["Drawn", "draw", "draw_elements"]

# The identifiers (AIM) of GS1 DataMatrix, GS1-128, plain Data Matrix and plain QR code.
_GS1_IDENTIFIERS = {"datamatrix": "]d2", "gs1_128": "]C1"}
_PLAIN_IDENTIFIERS = {"datamatrix": "]d1", "qr": "]Q1"}
# Quiet zones in modules, left and right: GS1 General Specifications, 5.12.3. Those of the square
# symbols are on all four sides.
_QUIET = {"datamatrix": 1, "qr": 4, "gs1_128": 10}


class Drawn(NamedTuple):
    """A symbol as SVG with its quiet zones; sizes in modules, the height 0 for a linear one."""

    kind: SymbolKind
    text: str
    data: str
    svg: str
    width: int
    height: int
    quiet: int


def draw(symbol: LabelSymbol) -> Drawn:
    """Draw a whole symbol."""
    if symbol.elements:
        return draw_elements(symbol.kind, symbol.elements, part=False)
    barcode = _create(symbol.kind, symbol.data, gs1=False)
    return _proved(barcode, symbol.kind, symbol.text, symbol.data, _PLAIN_IDENTIFIERS)


def draw_elements(kind: SymbolKind, elements: list[Element], *, part: bool) -> Drawn:
    """Draw a symbol of some elements; ``part`` if others stand in a second symbol of the label."""
    try:
        data = element_string(elements, part=part)
        text = element_text(elements, part=part)
    except ValueError as error:
        raise LabelError(f"{error}.") from error
    barcode = _create(kind, text, gs1=True)
    return _proved(barcode, kind, text, data, _GS1_IDENTIFIERS)


def _create(kind: SymbolKind, content: str, *, gs1: bool) -> Any:
    import zxingcpp  # noqa: PLC0415 - only whoever draws labels has it

    formats = {
        "datamatrix": zxingcpp.BarcodeFormat.DataMatrix,
        "gs1_128": zxingcpp.BarcodeFormat.Code128,
        "qr": zxingcpp.BarcodeFormat.QRCode,
    }
    # Oblong Data Matrix symbols are newer than many scanners. A wet label wants QR's level M.
    wanted: dict[SymbolKind, dict[str, Any]] = {
        "datamatrix": {"force_square": True},
        "qr": {"ec_level": "M"},
        "gs1_128": {},
    }
    return zxingcpp.create_barcode(content, formats[kind], gs1=gs1, **wanted[kind])


def _proved(
    barcode: Any, kind: SymbolKind, text: str, data: str, identifiers: dict[str, str]
) -> Drawn:
    """Refuse a symbol that is not of the wanted sort or does not hold the data.

    The library ignores a keyword that it does not know, so a later version could quietly draw
    plain symbols where GS1 ones were asked for.
    """
    import zxingcpp  # noqa: PLC0415

    image: Any = zxingcpp.write_barcode_to_image(barcode, scale=1, add_quiet_zones=True)
    shape: Any = memoryview(image).shape
    height, width = shape
    right_shape = kind == "gs1_128" or width == height
    if (
        barcode.symbology_identifier != identifiers[kind]
        or bytes(barcode.bytes) != data.encode()
        or not right_shape
    ):
        raise LabelError(
            f"The installed zxing-cpp drew {barcode.symbology_identifier} {bytes(barcode.bytes)!r} "
            f"in place of {identifiers[kind]} {data!r}: install the version that rindline names."
        )
    return Drawn(
        kind=kind,
        text=text,
        data=data,
        svg=zxingcpp.write_barcode_to_svg(barcode, scale=1, add_quiet_zones=True),
        width=width,
        height=0 if kind == "gs1_128" else height,
        quiet=_QUIET[kind],
    )
