"""Lines of a scale: units, patterns, bytes put together."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline import InvalidInputError
from rindline.stations import LineFormat, LineSplitter, Reading, grams_of
from tests.stations.scale_player import FORMAT, line, sliced


@pytest.mark.parametrize(
    ("number", "unit", "mass_g"),
    [
        ("8.012", "kg", 8012),
        ("+008.012", "KG", 8012),
        ("-0.120", "kg", -120),
        ("250", "g", 250),
        # 1 lb = 0.45359237 kg exactly (International Yard and Pound Agreement, 1959); to grams by
        # hand: 453.59237, 7,983.225712, 45,359.237.
        ("1", "lb", 454),
        ("17.6", "lb", 7983),
        ("100", "lb", 45359),
        # A half goes to the even gram; binary floats would make 1.0005 kg 1000.4999...
        ("1.0005", "kg", 1000),
        ("1.0015", "kg", 1002),
        ("0.5", "g", 0),
        ("1.5", "g", 2),
    ],
)
def test_units_become_whole_grams(number: str, unit: str, mass_g: int) -> None:
    """Kilograms, grams and pounds become integer grams by exact decimal arithmetic."""
    assert grams_of(number, unit) == mass_g


@pytest.mark.parametrize(
    ("number", "unit"),
    [
        ("1", "oz"),
        ("1", ""),
        ("", "kg"),
        ("1,5", "kg"),
        ("1e3", "g"),
        ("NaN", "g"),
        ("\u0661", "g"),
    ],
)
def test_what_is_no_mass_is_refused(number: str, unit: str) -> None:
    """Another unit, or what is not a plain decimal number, raises ValueError."""
    with pytest.raises(ValueError, match="is not"):
        grams_of(number, unit)


@given(st.integers(-999_999, 999_999), st.booleans())
def test_a_line_reads_back_what_was_written(mass_g: int, stable: bool) -> None:
    """Every mass the played scale can write is read back to the gram, with its flag."""
    text = line(mass_g, stable=stable).decode().strip()
    assert FORMAT.read(text) == Reading(mass_g, stable)


def test_a_line_must_fit_whole() -> None:
    """A line that lost any of its characters, or has one more at either end, is not a mass."""
    text = line(8012).decode().strip()
    assert FORMAT.read(text) is not None
    assert [FORMAT.read(text[:i] + text[i + 1 :]) for i in range(len(text))] == [None] * len(text)
    assert FORMAT.read("0" + text) is None
    assert FORMAT.read(text + "0") is None


def test_gross_and_tare_give_net() -> None:
    """Where a scale writes gross and tare, their difference is the mass."""
    form = LineFormat(r"G (?P<gross>[\d.]+) T (?P<tare>[\d.]+)", unit="kg")
    assert form.read("G 8.512 T 0.500") == Reading(8012, None)
    assert form.read("G 0.100 T 0.500") == Reading(-400, None)


def test_sign_apart_fault_and_comma() -> None:
    """A sign that stands apart, a fault word and a decimal comma are understood when declared."""
    form = LineFormat(r"(?P<fault>OL)?(?P<sign>[+-]?) *(?P<value>[\d.,]*)", unit="kg", decimal=",")
    assert form.read("-   0,120") == Reading(-120)
    assert form.read("OL9,999") is None
    assert form.read("1.000,5") is None
    assert form.read("") is None


def test_the_unit_of_the_line_goes_before_the_given_one() -> None:
    """Somebody switched the scale to pounds: the line says so and is believed."""
    form = LineFormat(r"(?P<value>[\d.]+) ?(?P<unit>\w*)", unit="kg")
    assert form.read("17.6 lb") == Reading(7983)
    assert form.read("17.6") == Reading(17600)
    assert form.read("17.6 st") is None


@pytest.mark.parametrize(
    ("pattern", "unit", "said"),
    [
        ("(?P<value>", "kg", "pattern is not one"),
        (r"(\d+)", "kg", "needs a group"),
        (r"(?P<gross>\d+)", "kg", "needs a group"),
        (r"(?P<value>\d+)(?P<gross>\d+)(?P<tare>\d+)", "kg", "needs a group"),
        (r"(?P<value>\d+)", None, "which unit"),
        (r"(?P<value>\d+)", "stone", "not one of the units"),
        (r"(?P<value>\d+)(?P<colour>\w)", "kg", "names colour"),
    ],
)
def test_an_unfit_pattern_is_refused_at_once(pattern: str, unit: str | None, said: str) -> None:
    """A pattern that could never give a mass is an error when it is given, not in the night."""
    with pytest.raises(InvalidInputError, match=said):
        LineFormat(pattern, unit=unit)


@given(st.integers(0, 2**32), st.lists(st.integers(0, 999_999), min_size=2, max_size=20))
def test_bytes_in_any_slices_give_the_same_lines(seed: int, masses: list[int]) -> None:
    """However the bytes are sliced, the lines are the same; the first is dropped."""
    data = b"".join(line(mass_g) for mass_g in masses)
    splitter = LineSplitter()
    found = [text for piece in sliced(data, random.Random(seed)) for text in splitter.feed(piece)]
    assert found == [line(mass_g).decode().strip() for mass_g in masses[1:]]


def test_what_cannot_be_a_line_is_none() -> None:
    """Too long or not ASCII: something came, but no line; the next one is whole again."""
    splitter = LineSplitter()
    assert splitter.feed(b"\r\n") == []
    assert splitter.feed(b"x" * 5000) == []
    assert splitter.feed(b"x" * 5000 + b"\rabc\r\n") == [None, "abc"]
    assert splitter.feed(b"\xb0\r\n\x02 12 g\x03\r\n") == [None, "12 g"]


def test_after_a_restart_half_a_line_is_dropped() -> None:
    """What was begun before the way was lost is not joined with what comes after."""
    splitter = LineSplitter()
    splitter.feed(b"\nST,NT,+00")
    splitter.restart()
    assert splitter.feed(b"8.012kg\r\nabc\r\n") == ["abc"]
