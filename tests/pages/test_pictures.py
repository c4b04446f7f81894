"""Pictures drawn from any answer: whole, legible, and with everything in them."""

from datetime import timedelta

import msgspec
import pytest
from hypothesis import HealthCheck, Phase, given, settings

from rindline_schema.answers import ClimateAnswer, ConditionPath, ConditionsAnswer, UnobservedSpan
from rindline_server.pages import (
    CARD,
    PAPER,
    SCREEN,
    Look,
    climate_svg,
    conditions_pages,
    conditions_svg,
)
from tests.pages.answers import climates, conditions
from tests.pages.reading import Drawn, Words, overlapping, read
from tests.pages.sample_lives import blend, wheel_life
from tests.pages.samples import room_strip, season_strip

_LOOKS = (SCREEN, CARD, PAPER)
_many = settings(
    max_examples=25,
    deadline=None,
    # To shrink a picture's answer takes minutes, and the texts in the failure say where it is.
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def _legible(svg: str, look: Look) -> Drawn:
    """Read a picture and make sure that every text can be read."""
    drawn = read(svg, look.letters)
    assert drawn.wide == look.wide
    assert overlapping(drawn.texts) == []
    for one in drawn.texts:
        assert one.size >= 11, one
        assert 0 <= one.left < one.right <= drawn.wide + 0.02, one
        assert 0 <= one.top < one.bottom <= drawn.high, one
    return drawn


def _holds_the_air(drawn: Drawn, told: ClimateAnswer | ConditionPath) -> None:
    gaps = 2 * len(told.unobserved)
    limits = [
        limit
        for one in getattr(told, "limits", [])
        for limit in (one.least_c, one.most_c, one.least_humidity_pct, one.most_humidity_pct)
        if limit is not None
    ]
    assert drawn.counts.get("gap", 0) >= gaps
    assert drawn.counts.get("limit", 0) == len(limits)
    assert drawn.counts.get("spell", 0) == len(told.figures.spells)
    assert drawn.counts.get("beyond", 0) == len(told.figures.spells)
    assert drawn.counts.get("doubt", 0) == len(told.doubts)


@_many
@given(climates())
def test_any_climate_is_drawn_whole(told: ClimateAnswer) -> None:
    """Valid SVG in every look, no text over another or outside; each limit, gap, spell, doubt."""
    for look in _LOOKS:
        drawn = _legible(climate_svg(told, look), look)
        _holds_the_air(drawn, told)
        assert told.safety_note in drawn.said
        assert told.safety_note in drawn.description


@_many
@given(conditions())
def test_any_life_is_drawn_whole(told: ConditionsAnswer) -> None:
    """Valid SVG, no text over another or outside; each stay, gap, spell and kind of handling."""
    drawn = _legible(conditions_svg(told), SCREEN)
    shown = told.paths[:6]
    assert drawn.counts.get("stay", 0) == sum(len(path.stays) for path in shown)
    assert drawn.counts.get("spell", 0) == sum(len(path.figures.spells) for path in shown)
    kinds = sum(len({one.kind for one in path.handlings}) for path in shown)
    assert drawn.counts.get("mark", 0) >= kinds
    assert told.safety_note in drawn.said
    more = len(told.paths) + told.paths_left_out - len(shown)
    assert (f"{more} more of" in drawn.said) is (more > 0)
    pages = [_legible(page, PAPER) for page in conditions_pages(told)]
    lines = [page for page in pages if "Temperature, °C" in page.said]
    assert len(lines) == len(shown)
    for line, path in zip(lines, shown, strict=True):
        _holds_the_air(line, path)
    for page in pages:
        assert told.safety_note in page.said


@pytest.mark.parametrize("look", _LOOKS)
def test_a_room_says_what_it_shows(look: Look) -> None:
    """Limits with their values, the gap in words, each spell with letter, worst and limit."""
    drawn = _legible(climate_svg(room_strip(), look), look)
    words = [one.words.replace("\u00a0", " ") for one in drawn.texts]
    for label in ("most 12.0", "least 8.0", "least 9.0", "most 98.0", "most 97.0", "least 88.0"):
        assert label in words
    assert sum("no reading" in one for one in words) >= 1
    assert words.count("A") == 2
    assert words.count("B") == 2
    assert "up to 15.9 °C, limit 12.0 °C" in drawn.said
    assert "down to 77.9 %, limit 88.0 %" in drawn.said
    assert "stuck" in drawn.said
    assert drawn.title == "Air of room Ripening room 2, the old cellar (R2), site QM"
    described = drawn.description.replace("\u00a0", " ")
    assert "Temperature: mean 10.5 °C, lowest 9.6 °C, highest 15.9 °C." in described
    assert "Beyond the limits 2 times." in described


def test_a_wheel_says_what_it_lived_through() -> None:
    """Rooms by number and name, ages beside piercings, ironing, cut and sale; counts by lane."""
    drawn = _legible(conditions_svg(wheel_life(), CARD), CARD)
    words = [one.words.replace("\u00a0", " ") for one in drawn.texts]
    assert "3 Ripening room 2" in words
    for label in ("21 d", "33 d", "62 d, A", "75 d", "79 d", "30\u00d7", "turned", "sold"):
        assert label in words
    assert "79 days from the make to the sale" in drawn.said
    assert "Turned 30 times." in drawn.description


def test_a_blend_draws_six_lines_and_tells_of_the_others() -> None:
    """Of eight inputs and three left out of the answer, five are not drawn; it is said so."""
    drawn = _legible(conditions_svg(blend()), SCREEN)
    assert sum(one.words.startswith("Path ") for one in drawn.texts) == 6
    assert "5 more of 11 paths are not drawn" in drawn.said


def test_a_life_whose_readings_ended_long_ago_is_not_squeezed() -> None:
    """Two years later the line still fills the picture, and says where it ends; else to its end."""
    told = wheel_life()
    path = told.paths[0]
    later = path.until_at + timedelta(days=730)
    gap = UnobservedSpan(
        why="no_reading", from_at=path.until_at, until_at=later, hours=730 * 24, room="COLD"
    )
    old = msgspec.structs.replace(path, until_at=later, unobserved=[*path.unobserved, gap])
    drawn = _legible(conditions_svg(msgspec.structs.replace(told, paths=[old])), SCREEN)
    assert "Drawn to 10 Dec 2026 only" in drawn.said
    assert "Drawn to" not in read(conditions_svg(told)).said
    lengths = [
        float(element.attrib["width"])
        for element in drawn.root.iter()
        if element.get("class") == "stay"
    ]
    # 31 of about 98 days, on 254 units.
    assert max(lengths) == pytest.approx(254 * 31 / 98.7, abs=2)


def test_letters_of_unknown_width_are_held_to_the_room_reckoned() -> None:
    """A three-em dash is wider than any letter reckoned with: it is set into the room it has."""
    told = msgspec.structs.replace(room_strip(), name="\u2e3b" * 9)
    drawn = read(climate_svg(told))
    (name,) = [one for one in drawn.root.iter() if one.text == "\u2e3b" * 9 and "x" in one.attrib]
    assert float(name.attrib["textLength"]) == pytest.approx(9 * 1.4 * 16 * 1.13, abs=0.01)
    assert name.attrib["lengthAdjust"] == "spacingAndGlyphs"
    assert not any(
        "textLength" in one.attrib for one in read(climate_svg(room_strip())).root.iter()
    )


def test_marks_differ_by_shape_alone() -> None:
    """No two kinds of handling have the same outline: colour is not needed to tell them."""
    drawn = read(conditions_svg(wheel_life()))
    outlines = {
        element.get("d", element.tag)
        for element in drawn.root.iter()
        if element.get("class") == "mark"
    }
    assert len(outlines) == len({one.kind for one in wheel_life().paths[0].handlings}) == 8


def test_what_overlaps_is_found() -> None:
    """The measure of these tests sees two texts that share a corner, and not two that touch."""
    one = Words("one", 0, 0, 10, 10, 11)
    assert overlapping([one, Words("other", 9, 9, 20, 20, 11)]) == [("one", "other")]
    assert overlapping([one, Words("other", 10, 0, 20, 10, 11)]) == []


def test_texts_are_escaped_and_unprintable_letters_left_out() -> None:
    """A name that looks like markup stays a name; what XML forbids becomes a space."""
    sly = '<script>alert(1)</script>&"\x00\x1b\ud800'
    told = msgspec.structs.replace(room_strip(), name=sly)
    drawn = _legible(climate_svg(told), SCREEN)
    assert '<script>alert(1)</script>&"' in drawn.said.replace("> ", ">").replace(" <", "<")


def test_the_same_answer_gives_the_same_picture() -> None:
    """A picture holds nothing but its answer: no time of drawing, no chance."""
    assert climate_svg(season_strip(), PAPER) == climate_svg(season_strip(), PAPER)
