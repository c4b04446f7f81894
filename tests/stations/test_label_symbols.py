"""The symbols on rendered labels, read by libraries that did not make them."""

from typing import Any

import arbez_dmtx
import numpy as np
import pytest
import zxingcpp
from biip import parse
from msgspec.structs import replace
from pystrich.code128 import Code128Data, Code128Encoder
from pystrich.datamatrix import DataMatrixData, DataMatrixEncoder
from pystrich.gs1 import GS1Fixed, GS1Variable

from rindline.labels import LABEL_SIZES, LabelError, make_label, render_label
from rindline.labels import _drawing as drawing
from rindline_schema.gs1 import FNC1, Element, element_string, parse_digital_link, parse_elements
from rindline_schema.labels import LabelFacts, LabelSymbol
from tests.stations.label_samples import (
    CASE,
    CASE_FACTS,
    MADE,
    PORTION,
    PORTION_FACTS,
    WEDGE,
    WHEEL,
    WHEEL_FACTS,
    WHOLE,
    Seen,
    pdf_pixels,
    png_pixels,
    read,
    read_bars,
)

_DATAMATRIX = {
    "portion": f"01{WEDGE.gtin}3103000187152605191326041410{PORTION}",
    "wheel": f"01{WHOLE.gtin}3103008125152604141126020310{WHEEL}",
    "case": f"00{CASE}02{WEDGE.gtin}152605193103002244{'37'}12{FNC1}10{PORTION}",
}
_ALL = [
    (facts, size.name)
    for facts in (PORTION_FACTS, WHEEL_FACTS, CASE_FACTS)
    for size in LABEL_SIZES.values()
    if facts.kind in size.kinds
]


def _pixels(facts: LabelFacts, size: str, form: str) -> Any:
    content = make_label(facts)
    if form == "png":
        return png_pixels(render_label(content, size, "png"))
    # Three pixels to a printer's dot, as a scanner sees paper.
    return pdf_pixels(render_label(content, size, "pdf"), 24)


@pytest.mark.parametrize("form", ["png", "pdf"])
@pytest.mark.parametrize(("facts", "size"), _ALL)
def test_the_data_matrix_is_read_back(facts: LabelFacts, size: str, form: str) -> None:
    """At every size, from the PNG at a 203 dpi printer's own dots and from the PDF, rxing and
    libdmtx read what was meant: GS1 DataMatrix (``]d2``), a separator only after the count.
    """
    pixels = _pixels(facts, size, form)
    assert read(pixels, "DATA_MATRIX") == Seen("]d2", _DATAMATRIX[facts.kind])
    shown = np.stack([pixels] * 3, axis=-1)
    found = arbez_dmtx.decode(shown, max_count=1, timeout=20_000)  # type: ignore[no-untyped-call]
    # libdmtx hands on no FNC1, neither the first nor those between elements.
    assert [one.data.decode() for one in found] == [_DATAMATRIX[facts.kind].replace(FNC1, "")]


@pytest.mark.parametrize("form", ["png", "pdf"])
@pytest.mark.parametrize(("facts", "size"), [(f, s) for f, s in _ALL if s.startswith("1")])
def test_the_linear_symbols_are_read_back(facts: LabelFacts, size: str, form: str) -> None:
    """Every line is GS1-128 (``]C1``); together they hold each element once, the SSCC last."""
    pixels = _pixels(facts, size, form)
    bars = read_bars(pixels, step=24 if form == "png" else 72)
    assert {seen.identifier for seen in bars} == {"]C1"}
    symbol = next(s for s in make_label(facts).symbols if s.kind == "gs1_128")
    together = FNC1.join(seen.text for seen in reversed(bars))
    assert sorted(parse_elements(together)) == sorted(symbol.elements)
    if facts.kind == "case":
        assert bars[-1].text == f"00{CASE}"


@pytest.mark.parametrize("form", ["png", "pdf"])
@pytest.mark.parametrize("size", ["62x40", "100x100"])
def test_the_link_is_read_back(size: str, form: str) -> None:
    """The QR symbol holds a Digital Link URI with GTIN, lot, mass and best-before date."""
    seen = read(_pixels(PORTION_FACTS, size, form), "QR_CODE")
    assert seen.identifier == "]Q1"
    assert parse_digital_link(seen.text) == [
        Element("01", WEDGE.gtin or ""),
        Element("10", PORTION),
        Element("3103", "000187"),
        Element("15", "260519"),
    ]


@pytest.mark.parametrize("facts", [PORTION_FACTS, WHEEL_FACTS, CASE_FACTS])
def test_biip_finds_no_fault(facts: LabelFacts) -> None:
    """An independent parser accepts what a scanner hands on, GTIN and SSCC included."""
    size = "100x150" if facts.kind == "case" else "40x30"
    seen = read(_pixels(facts, size, "png"), "DATA_MATRIX")
    parsed = parse(seen.identifier + seen.text)
    assert parsed.gs1_message_error is None
    message = parsed.gs1_message
    assert message is not None
    found = {part.ai.ai: part for part in message.element_strings}
    if facts.kind == "case":
        assert found["37"].value == "12"
        assert found["00"].sscc is not None
        assert found["10"].value == PORTION
    else:
        assert parsed.gtin_error is None
        assert parsed.gtin is not None
        assert str(parsed.gtin.value) == facts.product.gtin
        assert found["10"].value == facts.lot


def test_symbols_of_others_are_read_by_ours() -> None:
    """pyStrich's GS1 DataMatrix and GS1-128, separator in the middle, are read by zxing-cpp and
    parsed by us into the elements that went in.
    """
    parts: list[GS1Fixed | GS1Variable] = [
        GS1Fixed("01", "09520123456788"),
        GS1Variable("10", "ABC1"),
        GS1Variable("21", "12345"),
    ]
    matrix = DataMatrixEncoder(DataMatrixData.gs1(*parts)).get_pilimage(4)
    linear = Code128Encoder(Code128Data.gs1(*parts)).get_pilimage(2)
    wanted = [Element("01", "09520123456788"), Element("10", "ABC1"), Element("21", "12345")]
    for picture, identifier in ((matrix, "]d2"), (linear, "]C1")):
        (seen,) = zxingcpp.read_barcodes(np.array(picture.convert("L")))
        assert seen.symbology_identifier == identifier
        assert parse_elements(seen.bytes.decode()) == wanted


@pytest.mark.parametrize("kind", ["datamatrix", "gs1_128"])
@pytest.mark.parametrize("ai", ["7003", "422", "426"])
def test_a_separator_follows_what_is_not_predefined(kind: Any, ai: str) -> None:
    """The drawing library puts FNC1 after 7003, 422 and 426, which look as if they needed none."""
    value = {"7003": "2605191200", "422": "250", "426": "250"}[ai]
    elements = [Element("01", "09520123456788"), Element(ai, value), Element("10", "B1")]
    drawn = drawing.draw_elements(kind, elements, part=False)
    assert drawn.data == f"0109520123456788{ai}{value}{FNC1}10B1"


def test_goods_without_a_gtin_get_the_bare_code() -> None:
    """A wheel that is never sold needs no GTIN: its symbol is a plain Data Matrix (``]d1``)."""
    bare = LabelFacts(
        kind="wheel",
        product=replace(WHOLE, gtin=None),
        site=WHEEL_FACTS.site,
        lot=WHEEL,
        mass_g=8125,
        made_on=MADE,
    )
    assert read(_pixels(bare, "40x30", "png"), "DATA_MATRIX") == Seen("]d1", WHEEL)


def test_a_wrong_drawing_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """If the library no longer knew our keyword it would draw plain symbols without a word: the
    check on what was drawn catches that, for content, symbology and shape.
    """
    elements = [Element("01", "09520123456788"), Element("10", "ABC123")]
    honest = zxingcpp.create_barcode

    def plain(_: object, form: Any, **__: Any) -> Any:
        return honest("010952012345678810ABC123", form, force_square=True)

    def forgets(content: object, form: Any, **keywords: Any) -> Any:
        keywords.pop(forgotten, None)
        return honest(content, form, **keywords)

    monkeypatch.setattr(zxingcpp, "create_barcode", forgets)
    forgotten = "gs1"
    for kind in ("datamatrix", "gs1_128"):
        with pytest.raises(LabelError, match="install the version"):
            drawing.draw_elements(kind, elements, part=False)
    monkeypatch.setattr(zxingcpp, "create_barcode", plain)
    with pytest.raises(LabelError, match="drew ]d1 b'010952"):
        drawing.draw_elements("datamatrix", elements, part=False)
    with pytest.raises(LabelError, match="drew ]C0 b'010952"):
        drawing.draw_elements("gs1_128", elements, part=False)
    monkeypatch.setattr(zxingcpp, "create_barcode", forgets)
    forgotten = "force_square"
    long = LabelSymbol(kind="datamatrix", text=WHEEL, data=WHEEL)
    with pytest.raises(LabelError, match="install the version"):
        drawing.draw(long)


def test_wrong_elements_never_reach_the_library() -> None:
    """zxing-cpp would take a wrong check digit: we refuse it first."""
    wrong = [Element("01", "09520123456789"), Element("10", "A")]
    accepted = zxingcpp.create_barcode(
        "(01)09520123456789(10)A", zxingcpp.BarcodeFormat.DataMatrix, gs1=True
    )
    assert accepted.valid
    with pytest.raises(LabelError, match="check digit"):
        drawing.draw_elements("datamatrix", wrong, part=False)
    with pytest.raises(ValueError, match="check digit"):
        element_string(wrong)
