"""Pictures in a real browser: nothing lies over anything else, and a screen reader is told."""

from pathlib import Path

import pytest

from rindline_server.pages import climate_svg, conditions_svg
from tests.pages.browser import measure
from tests.pages.sample_lives import blend, wheel_life
from tests.pages.samples import room_strip, season_strip, strange_room

_TITLES = [
    "Air of room Ripening room 2, the old cellar (R2), site QM",
    "Air of room Ripening room 2, the old cellar (R2), site QM",
    "Life of portion QM26246P0017K",
    "Life of blend QM26305B0001C",
]


def _pictures() -> list[str]:
    return [
        climate_svg(room_strip()),
        climate_svg(season_strip()),
        conditions_svg(wheel_life()),
        conditions_svg(blend()),
    ]


@pytest.mark.parametrize("face", ["", "DejaVu Sans", "Liberation Serif"])
@pytest.mark.parametrize("wide", [360, 800])
def test_no_text_lies_over_another(wide: int, face: str, tmp_path: Path) -> None:
    """On a phone (360 pixels) and beyond, in narrow and wide faces: all apart, inside, >= 11 px."""
    for told in measure([*_pictures(), climate_svg(strange_room())], wide, tmp_path, face):
        assert told["width"] == wide
        assert told["texts"] > 30
        assert told["overlaps"] == []
        assert told["outside"] == []
        assert told["least"] >= 11


def test_a_screen_reader_is_told_what_the_picture_is(tmp_path: Path) -> None:
    """The browser computes the role of an image, and its title as its name (WAI-ARIA, SVG-AAM)."""
    measured = measure(_pictures(), 360, tmp_path)
    assert [told["name"] for told in measured] == _TITLES
    assert {told["role"] for told in measured} <= {"img", "image"}


def test_the_browser_finds_labels_that_overlap(tmp_path: Path) -> None:
    """The measure itself: a label put over another and one put outside are both found."""
    svg = climate_svg(room_strip())
    added = '<text x="9" y="20">over the name</text><text x="350" y="200">outside</text></svg>'
    (told,) = measure([svg.replace("</svg>", added)], 360, tmp_path)
    assert ["Ripening room 2, the old cellar", "over the name"] in told["overlaps"]
    assert told["outside"] == ["outside"]
