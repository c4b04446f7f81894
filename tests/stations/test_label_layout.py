"""Where things stand on a label: nothing cut off, nothing over a symbol, all text there."""

import re
from concurrent.futures import ThreadPoolExecutor
from typing import Any, NamedTuple

import numpy as np
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from rindline.labels import LABEL_SIZES, LabelError, LabelSize, make_label, render_label
from rindline.labels._placing import MARGIN_MM, place_bars, place_squares
from rindline_schema.labels import LabelContent, LabelFacts
from tests.stations.label_samples import (
    CASE_FACTS,
    PORTION_FACTS,
    SITE,
    WEDGE,
    WHEEL_FACTS,
    png_pixels,
    read,
)

_FACTS: dict[str, LabelFacts] = {
    facts.kind: facts for facts in (PORTION_FACTS, WHEEL_FACTS, CASE_FACTS)
}
_ALL = [(kind, name) for name, size in LABEL_SIZES.items() for kind in size.kinds]
_POINTS_PER_MM = 72 / 25.4


class _Box(NamedTuple):
    """A rectangle in millimetres from the top left."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: "_Box") -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


class _Written(NamedTuple):
    """The text of a PDF, and the box of each visible character."""

    text: str
    boxes: list[_Box]


def _written(pdf: bytes, size: LabelSize) -> _Written:
    document = pypdfium2.PdfDocument(pdf)
    assert len(document) == 1
    page = document[0]
    assert page.get_size() == pytest.approx(
        (size.width_mm * _POINTS_PER_MM, size.height_mm * _POINTS_PER_MM), abs=0.01
    )
    words = page.get_textpage()
    text = words.get_text_range()
    boxes = []
    for i in range(words.count_chars()):
        if words.get_text_range(i, 1).strip():
            left, bottom, right, top = (x / _POINTS_PER_MM for x in words.get_charbox(i))
            boxes.append(_Box(left, size.height_mm - top, right, size.height_mm - bottom))
    words.close()
    page.close()
    document.close()
    return _Written(text, boxes)


def _symbols(content: LabelContent, size: LabelSize) -> list[_Box]:
    """Give the boxes of the symbols, quiet zones included, as they should be placed."""
    boxes = []
    top = MARGIN_MM
    for square in place_squares(content, size, 8):
        right = size.width_mm - MARGIN_MM
        boxes.append(_Box(right - square.width_mm, top, right, top + square.height_mm))
        top += square.height_mm + 0.25
    bottom = size.height_mm - MARGIN_MM
    for bar in reversed(place_bars(content, size, 8)):
        bottom -= 2.9
        boxes.append(_Box(MARGIN_MM, bottom - bar.height_mm, MARGIN_MM + bar.width_mm, bottom))
        bottom -= bar.height_mm + 0.8
    return boxes


def _squeezed(text: str) -> str:
    return re.sub(r"[\s\u00ad\u2010\ufffe\u0002-]", "", text).casefold()


def _assert_sound(content: LabelContent, name: str) -> None:
    """Everything inside, nothing over a symbol or its quiet zone, nothing left out."""
    size = LABEL_SIZES[name]
    written = _written(render_label(content, size, "pdf"), size)
    inside = _Box(0.5, 0.5, size.width_mm - 0.5, size.height_mm - 0.5)
    symbols = _symbols(content, size)
    for box in written.boxes:
        assert inside.left <= box.left < box.right <= inside.right
        assert inside.top <= box.top < box.bottom <= inside.bottom
        for symbol in symbols:
            assert not box.overlaps(symbol), (box, symbol)
    found = _squeezed(written.text)
    said = [content.title, content.food_name, content.code, content.quantity.text]
    said += [field.text for field in content.fields]
    said += [*content.allergens, *content.business]
    missing = [text for text in said if _squeezed(text) not in found]
    assert missing == []


@pytest.mark.parametrize(("kind", "name"), _ALL)
def test_every_label_is_whole(kind: str, name: str) -> None:
    """Each kind at each size: all of the text, all of it inside, none of it over a symbol."""
    _assert_sound(make_label(_FACTS[kind]), name)


@pytest.mark.parametrize("dots_per_mm", [8, 12, 24])
@pytest.mark.parametrize(("kind", "name"), _ALL)
def test_symbols_stand_on_whole_dots(kind: str, name: str, dots_per_mm: int) -> None:
    """In the PNG each square symbol is exactly where it should be, black and white only, each
    module a whole number of dots, with a white quiet zone all round.
    """
    size = LABEL_SIZES[name]
    content = make_label(_FACTS[kind])
    pixels = png_pixels(render_label(content, size, "png", dots_per_mm=dots_per_mm))
    assert pixels.shape == (size.height_mm * dots_per_mm, size.width_mm * dots_per_mm)
    top = MARGIN_MM * dots_per_mm
    for square in place_squares(content, size, dots_per_mm):
        side = square.height_mm * dots_per_mm
        right = (size.width_mm - MARGIN_MM) * dots_per_mm
        box = pixels[round(top) : round(top + side), round(right - side) : round(right)]
        dots = side / square.drawn.height
        assert dots == round(dots)
        assert set(np.unique(box)) == {0, 255}
        modules = box.reshape(square.drawn.height, round(dots), square.drawn.width, round(dots))
        assert (modules == modules[:, :1, :, :1]).all()
        quiet = round(square.drawn.quiet * dots)
        framed = box.copy()
        framed[quiet:-quiet, quiet:-quiet] = 255
        assert (framed == 255).all()
        assert (box[quiet] == 0).any()
        top += side + dots_per_mm // 4


@pytest.mark.parametrize("form", ["svg", "png", "pdf"])
def test_one_source_gives_every_format(form: Any) -> None:
    """SVG, PNG and PDF come out, and twice the same gives the same bytes."""
    content = make_label(PORTION_FACTS)
    made = render_label(content, "62x40", form)
    starts = {"svg": b"<svg", "png": b"\x89PNG", "pdf": b"%PDF"}
    assert made.startswith(starts[form])
    assert made == render_label(content, "62x40", form)


def test_the_svg_needs_no_font() -> None:
    """Text in the SVG is outlines, so that a machine without our font shows the same label."""
    svg = render_label(make_label(PORTION_FACTS), "62x40", "svg").decode()
    assert "<text" not in svg
    assert "font-family" not in svg


@pytest.mark.parametrize(
    ("changes", "size", "why"),
    [
        ({"storage": "Keep cool. " * 60}, "40x30", "too small"),
        ({"name": "Blue " * 40}, "40x30", "too small"),
    ],
)
def test_text_that_does_not_fit_is_refused(changes: dict[str, str], size: str, why: str) -> None:
    """Never cut off or shrunk beyond what the law allows: the maker takes a larger label."""
    facts = replace(PORTION_FACTS, product=replace(WEDGE, **changes))
    with pytest.raises(LabelError, match=why):
        render_label(make_label(facts), size, "pdf")


def test_sizes_formats_and_printers_that_are_not_there() -> None:
    """A wrong size, kind, format or printer is named, with what to use."""
    content = make_label(PORTION_FACTS)
    with pytest.raises(LabelError, match="no size '1x1'"):
        render_label(content, "1x1")
    with pytest.raises(LabelError, match="is not for a portion: use 40x30"):
        render_label(content, "100x150")
    with pytest.raises(LabelError, match="use svg, png or pdf"):
        render_label(content, "62x40", "gif")  # type: ignore[arg-type]
    with pytest.raises(LabelError, match="8, 12, 24 dots"):
        render_label(content, "62x40", dots_per_mm=10)


def test_text_is_never_markup() -> None:
    """What would be commands in the typesetter's language is printed as it was typed."""
    trap = '#panic("x") *b* $x$ @a <l> \\ `c` #let y = 1'
    facts = replace(PORTION_FACTS, product=replace(WEDGE, label_name=trap))
    size = LABEL_SIZES["100x100"]
    written = _written(render_label(make_label(facts), size, "pdf"), size)
    assert _squeezed(trap) in _squeezed(written.text)


# Letters of the three languages; words as long as a compound, and names without a space.
_LETTERS = "abcdefghiklmnoprstuvwxzäöüßéèêçàœABCDEFGHKLMNOPRSTVWÄÖÜÉÀ"
_WORD = st.text(_LETTERS, min_size=1, max_size=30)
_TEXT = st.lists(_WORD, min_size=1, max_size=8).map(" ".join)


@st.composite
def _long_facts(draw: st.DrawFn) -> LabelFacts:
    product = replace(
        WEDGE,
        name=draw(_TEXT),
        label_name=draw(st.none() | _TEXT),
        storage=draw(st.none() | _TEXT),
        allergens=draw(st.lists(_WORD, max_size=4)),
        milk_from=draw(_WORD),
        language=draw(st.sampled_from(["en", "de", "fr"])),
    )
    site = replace(SITE, name=draw(_TEXT), address=draw(_TEXT), approval_number="DE NW 20045")
    return replace(PORTION_FACTS, product=product, site=site)


@settings(max_examples=40, deadline=None)
@given(facts=_long_facts(), name=st.sampled_from(["40x30", "62x40", "100x60", "100x100"]))
def test_text_never_overflows(facts: LabelFacts, name: str) -> None:
    """Whatever the names in three languages: either the label is whole, or it is refused."""
    content = make_label(facts)
    try:
        _assert_sound(content, name)
    except LabelError as error:
        assert "too small" in str(error)  # noqa: PT017 - refusing is one of the two right answers


def test_the_code_is_tall_enough() -> None:
    """At arm's length (0.66 m) figures of 2.2 mm are read: a 300th of the distance, a rule of
    thumb, no source. The smallest label's code is at least so high.
    """
    size = LABEL_SIZES["40x30"]
    document = pypdfium2.PdfDocument(render_label(make_label(PORTION_FACTS), size, "pdf"))
    words = document[0].get_textpage()
    text = words.get_text_range()
    start = text.index(PORTION_FACTS.lot or "")
    _, bottom, _, top = words.get_charbox(start + 2)
    assert (top - bottom) / _POINTS_PER_MM >= 2.2
    words.close()
    document.close()


def test_dirt_on_the_label_is_read_through() -> None:
    """A QR symbol of level M is still read with a blot over a corner of its data."""
    content = make_label(PORTION_FACTS)
    size = LABEL_SIZES["62x40"]
    pixels = png_pixels(render_label(content, size, "png", dots_per_mm=24)).copy()
    (_, square) = place_squares(content, size, 24)
    right = round((size.width_mm - MARGIN_MM) * 24)
    bottom = round((MARGIN_MM + 9.75 + 0.25 + square.height_mm) * 24)
    blot = round(square.width_mm * 24 * 0.12)
    quiet = round(square.height_mm * 24 * 4 / square.drawn.height)
    pixels[bottom - quiet - blot : bottom - quiet, right - quiet - blot : right - quiet] = 0
    assert read(pixels, "QR_CODE").text == content.symbols[1].data


def test_many_threads_may_ask_at_once() -> None:
    """Twelve labels asked for by four threads are all made; typst alone refuses all but one."""
    contents = [make_label(replace(PORTION_FACTS, mass_g=150 + number)) for number in range(12)]
    with ThreadPoolExecutor(4) as threads:
        made = list(threads.map(lambda content: render_label(content, "62x40", "svg"), contents))
    assert len(set(made)) == 12
