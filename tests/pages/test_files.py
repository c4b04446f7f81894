"""Pictures as PNG and PDF: decoded by other programs, and looked at without colour."""

import io
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from itertools import combinations

import msgspec
import numpy as np
import pypdfium2
import pytest
from PIL import Image

from rindline_server.pages import (
    CARD,
    PAPER,
    PictureError,
    climate_svg,
    conditions_pages,
    conditions_svg,
    files,
    picture_file,
)
from tests.pages.reading import read
from tests.pages.sample_lives import blend, wheel_life
from tests.pages.samples import START, room_strip, season_strip, strange_room

_A4_POINTS = (595.28, 841.89)  # ISO 216: 210 mm x 297 mm, at 72 points an inch
_SCALE = 3  # pixels a unit of the picture


def _grey(svg: str) -> np.ndarray:
    """Make the PNG and give its pixels as shades, 0 black to 255 white."""
    image = Image.open(io.BytesIO(picture_file(svg, "png")))
    assert image.format == "PNG"
    return np.asarray(image.convert("L"), dtype=float)


def _inside(svg: str, kind: str) -> list[np.ndarray]:
    """Give the pixels within each rectangle of a class, without its edge."""
    pixels = _grey(svg)
    parts = []
    for element in read(svg, CARD.letters).root.iter():
        if element.get("class") == kind and element.get("width"):
            x, y, wide, high = (float(element.attrib[n]) for n in ("x", "y", "width", "height"))
            rows = slice(round((y + 1.5) * _SCALE), round((y + high - 1.5) * _SCALE))
            columns = slice(round((x + 1.5) * _SCALE), round((x + wide - 1.5) * _SCALE))
            parts.append(pixels[rows, columns])
    return parts


def test_a_png_is_as_wide_as_a_phone_shows_sharply() -> None:
    """1,080 pixels wide (three for each of 360), as high as the picture, and not blank."""
    svg = climate_svg(room_strip(), CARD)
    pixels = _grey(svg)
    drawn = read(svg, CARD.letters)
    assert pixels.shape[1] == _SCALE * 360
    assert abs(pixels.shape[0] - _SCALE * drawn.high) <= 3
    assert 0.02 < (pixels < 128).mean() < 0.5
    assert (pixels[:6] == 255).all()


def test_a_pdf_is_one_a4_page_whose_text_can_be_searched() -> None:
    """A room on one page; its name, limits, spells and the safety line are text, not outlines."""
    for told in (room_strip(), season_strip()):
        document = pypdfium2.PdfDocument(picture_file(climate_svg(told, PAPER), "pdf", told.name))
        assert len(document) == 1
        page = document[0]
        assert page.get_size() == pytest.approx(_A4_POINTS, abs=0.5)
        text = " ".join(page.get_textpage().get_text_range().replace("\u00a0", " ").split())
        for words in (
            told.name,
            "most 12.0",
            "too warm",
            "decided by the responsible",
            "trapezoid",
        ):
            assert words in text
        assert document.get_metadata_value("Title") == told.name
        pixels = np.asarray(page.render(scale=1).to_pil().convert("L"), dtype=float)
        assert 0.01 < (pixels < 128).mean() < 0.5


def test_the_figure_of_a_pdf_is_drawn_by_lines_not_pixels() -> None:
    """No image of pixels stands in it: it can be printed as large as anyone likes."""
    document = pypdfium2.PdfDocument(picture_file(climate_svg(room_strip(), PAPER), "pdf"))
    image = pypdfium2.raw.FPDF_PAGEOBJ_IMAGE
    objects = list(document[0].get_objects(max_depth=15))
    assert len(objects) > 100
    assert [one for one in objects if one.type == image] == []


def test_only_our_own_face_is_used() -> None:
    """Every text of a page is set in it: what another machine has installed changes nothing."""
    document = pypdfium2.PdfDocument(picture_file(climate_svg(room_strip(), PAPER), "pdf"))
    texts = [
        one
        for one in document[0].get_objects(max_depth=15)
        if one.type == pypdfium2.raw.FPDF_PAGEOBJ_TEXT
    ]
    assert len(texts) > 30
    faces = {one.get_font().get_base_name() for one in texts}
    assert faces
    assert all("IBMPlexSansCond" in face for face in faces), faces


def test_many_threads_may_ask_at_once() -> None:
    """Eight pictures asked for by four threads are all made; typst alone refuses all but one."""
    svgs = [
        climate_svg(msgspec.structs.replace(room_strip(), name=f"Cellar {n}"), CARD)
        for n in range(8)
    ]
    with ThreadPoolExecutor(4) as threads:
        made = list(threads.map(lambda svg: picture_file(svg, "png"), svgs))
    assert all(one.startswith(b"\x89PNG") for one in made)
    assert len(set(made)) == 8


def test_letters_on_paper_are_not_small() -> None:
    """A room and a wheel fill the width of the page: 11 units are 10 points, at least 8."""
    for pages in ([climate_svg(room_strip(), PAPER)], conditions_pages(wheel_life())):
        for page in pages:
            drawn = read(page, PAPER.letters)
            scale = min(180 / drawn.wide, 267 / drawn.high) / 25.4 * 72
            assert 11 * scale >= 8.0, drawn.high


def test_a_blend_has_a_page_for_each_life_line() -> None:
    """Six of eight inputs, each on a sheet of its own: the line, and the figures on its back."""
    document = pypdfium2.PdfDocument(picture_file(conditions_pages(blend()), "pdf", "Life"))
    texts = [page.get_textpage().get_text_range() for page in document]
    assert len(texts) == 12
    for number, (line, figures) in enumerate(zip(texts[::2], texts[1::2], strict=True), 1):
        assert f"Path {number} of 11" in line
        assert f"Path {number} of 11" in figures
        assert ("turned" in line, "turned" in figures) == (True, False)
        assert "by the responsible" in line
        assert "by the responsible" in figures


def test_any_letters_can_be_set() -> None:
    """Names in scripts the font does not hold still give a page and a picture."""
    svg = climate_svg(strange_room(), CARD)
    assert picture_file(svg, "pdf").startswith(b"%PDF")
    assert (_grey(svg) < 128).any()


def test_gaps_and_spells_can_be_told_apart_without_colour() -> None:
    """In shades of grey a gap is striped, a spell is dotted darker, and the plain plot is neither.

    A stripe leaves both dark and white pixels in every row; a plain plot is mostly white.
    """
    svg = climate_svg(room_strip(), CARD)
    for gap in _inside(svg, "gap"):
        dark = (gap < 200).mean()
        assert 0.2 < dark < 0.7
        assert ((gap < 200).any(axis=1) & (gap > 240).any(axis=1)).mean() > 0.95
    whole = msgspec.structs.replace(room_strip(), unobserved=[])
    pixels, gapless = _grey(svg), _grey(climate_svg(whole, CARD))
    same = min(len(pixels), len(gapless), 900)
    assert (np.abs(pixels[:same] - gapless[:same]) > 100).sum() > 3000
    warm, _ = _inside(svg, "beyond")
    assert 0.15 < (warm < 130).mean() < 0.9
    for mark in _inside(svg, "spell"):
        assert mark.size == 0 or mark.max() < 130


def test_rooms_can_be_told_apart_without_colour() -> None:
    """Any two of six fills differ in shade, or in how their rows or columns vary."""
    told = wheel_life()
    stay = told.paths[0].stays[2]
    stays = [
        msgspec.structs.replace(
            stay,
            room=f"R{number}",
            room_name="",
            from_at=START + timedelta(days=13 * number),
            until_at=START + timedelta(days=13 * (number + 1)),
        )
        for number in range(6)
    ]
    path = msgspec.structs.replace(told.paths[0], stays=stays)
    fills = [
        # The half left of the number in its middle.
        part[:, : part.shape[1] // 4]
        for part in _inside(
            conditions_svg(msgspec.structs.replace(told, paths=[path]), CARD), "stay"
        )
    ]
    assert len(fills) == 6
    looks = [(fill.mean(), fill.mean(axis=1).std(), fill.mean(axis=0).std()) for fill in fills]
    for one, other in combinations(looks, 2):
        assert max(abs(a - b) for a, b in zip(one, other, strict=True)) > 8, (one, other)


@pytest.mark.parametrize("missing", ["typst", "fontpkg_ibm_plex_sans_condensed"])
def test_without_the_extra_it_says_what_to_install(
    missing: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SVG needs nothing more; PNG and PDF name what is missing and how it is installed."""
    monkeypatch.setitem(sys.modules, missing, None)
    files._compiler.cache_clear()
    svg = climate_svg(room_strip(), CARD)
    with pytest.raises(PictureError, match=rf"{missing}.*rindline\[labels\]"):
        picture_file(svg, "png")
    monkeypatch.undo()
    assert picture_file(svg, "png").startswith(b"\x89PNG")
