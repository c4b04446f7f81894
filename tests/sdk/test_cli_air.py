"""Sensors, climate, conditions, losses and comparison as people read them in a terminal."""

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest

from rindline.cli._curves import LABEL
from rindline.testing import FakeServer
from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import ClimateAnswer, ConditionsAnswer
from rindline_schema.problems import make_problem
from tests.sdk.air_samples import (
    CLIMATE,
    CONDITIONS,
    PATH,
    SECOND,
    SENSORS,
    UNTIL,
)
from tests.sdk.command_runs import Run, has_row
from tests.sdk.loss_samples import COMPARISON, LOSS
from tests.sdk.samples import AT, MISTYPED, PORTION, WHEEL


@pytest.fixture
def airy(server: FakeServer) -> FakeServer:
    """Gives the fake server, which knows the sample answers about air."""
    for operation, answer in (
        ("climate", CLIMATE),
        ("conditions", CONDITIONS),
        ("weight_loss", LOSS),
        ("comparison", COMPARISON),
        ("sensors", SENSORS),
    ):
        server.answer(operation, answer)
    return server


def _flat(text: str) -> str:
    return " ".join(text.split())


def test_conditions_show_what_the_picture_shows(run: Run, airy: FakeServer) -> None:
    """Bands, curves, marks, letters with a legend; figures of each stay, ages, the 60 days in
    words, notes and the safety line; times in local time with their offset.
    """
    ran = run("conditions", PORTION)
    assert (ran.code, ran.err) == (0, "")
    lines = ran.out.splitlines()
    band = next(line for line in lines if line.startswith("rooms"))
    assert "│CAVE-1═══" in band
    assert band.endswith("c")
    assert "C cut   P pierce   I iron   k weigh   t turn" in lines
    done = next(line for line in lines if line.startswith("done"))
    assert set(done[LABEL:]) == set(" tPkICt")
    assert has_row(ran.out, "b", "CAVE-1 (The first cave)", "2026-02-06 06:30+01:00", WHEEL)
    assert has_row(ran.out, "c", "CUTTING", "still there", PORTION)
    assert has_row(ran.out, "b", "38.8", "10.9", "8.1", "9.0", "13.9", "19.5", "36", "48")
    assert has_row(ran.out, "all", "42.0", "11.5")
    assert has_row(ran.out, "pierce", "2026-02-24 06:30+01:00", "21.0", "60 holes, NEEDLES")
    assert has_row(ran.out, "iron", "grade A, blueing 4, flavour 5")
    assert has_row(ran.out, "At piercing", "21 days old")
    assert has_row(ran.out, "Counted from", "2026-02-03 06:30+01:00, make")
    assert "Besides: turn 41 x" in ran.out
    assert PATH.sixty_days is not None
    for text in (PATH.sixty_days.wording, "21 CFR 133, as read on 2026-01-07", SAFETY_NOTE):
        assert text in ran.out
    assert f"Note: {CONDITIONS.notes[0]}" in ran.out
    assert has_row(ran.out, "S-1", "-0.3", "declared afterwards, 2026-02-15 06:30+01:00")
    assert has_row(ran.out, "S-2", "stuck", "showed 9.4 for 24 hours")
    assert airy.requests[0].query == (("series", "hours"),)


def test_excursions_and_gaps_stand_at_their_own_time(run: Run, airy: FakeServer) -> None:
    """A cell is marked if and only if the spell or gap touches it; without any colour."""
    lines = run("conditions", PORTION).out.splitlines()
    heat, damp = (line for line in lines if line.startswith("outside"))
    cells = len(next(line for line in lines if line.startswith("rooms"))) - LABEL
    step = (UNTIL - AT) / cells
    for row, sign in ((heat, "^"), (damp, "v")):
        spell = PATH.figures.spells[sign == "v"]
        for cell in range(cells):
            begin = AT + cell * step
            touched = begin < spell.until_at and spell.from_at < begin + step
            assert (row[LABEL:].ljust(cells)[cell] == sign) is touched
    gap = PATH.unobserved[0]
    middle = int((gap.from_at + timedelta(hours=24) - AT) / step)
    assert heat[LABEL + middle] == damp[LABEL + middle] == "."
    assert "." not in heat[: LABEL + middle - 3]


@pytest.mark.parametrize("width", ["60", "80", "200"])
@pytest.mark.parametrize("command", ["conditions", "climate", "weight-loss", "compare", "sensors"])
def test_no_line_is_wider_than_the_screen(
    run: Run, airy: FakeServer, monkeypatch: pytest.MonkeyPatch, width: str, command: str
) -> None:
    """On a narrow screen too: no line runs over, no word of a table is broken in two."""
    monkeypatch.setenv("COLUMNS", width)
    thing = {"conditions": [PORTION], "weight-loss": [WHEEL], "climate": ["CAVE-1"]}
    ran = run(command, *thing.get(command, []))
    assert ran.code == 0
    lines = ran.out.splitlines()
    assert max(map(len, lines)) <= int(width)
    if command in ("conditions", "climate"):
        # The drawing fits: what is too wide would be broken, with its end on the next line.
        assert ["2026-02-03", "2026-03-17"] in [line.split() for line in lines]
    words = set(ran.out.split())
    for word in {
        "conditions": ("CAVE-1", WHEEL, "06:30+01:00", "2026-02-03", "pierce"),
        "climate": ("CAVE-1", "2026-02-13", "declared"),
        "weight-loss": ("Weighed", "Corridor", "Median", "above"),
        "compare": ("Measure", "Judged", "Badly", "CAVE-1"),
        "sensors": ("S-1", "2026-02-03", "Silent", "stuck"),
    }[command]:
        assert word in words


def test_a_plain_terminal_gets_plain_characters(
    run: Run, airy: FakeServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where block characters cannot be written, the same picture is drawn with others."""
    monkeypatch.setattr("rindline.cli._screen.Screen.draws", property(lambda _screen: False))
    out = run("climate", "CAVE-1").out
    drawing = out[: out.index("Observed")]
    assert drawing.replace("°", "").isascii()
    assert "- limit" in drawing
    assert "^^" in drawing


def test_climate_shows_curves_with_limits_and_its_figures(run: Run, airy: FakeServer) -> None:
    """Limits as broken lines, the figures with their units, spells, gaps, notes, the rule."""
    ran = run("climate", "cave-1", "--base-c", "10")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.count("┄┄┄") >= 3
    assert has_row(ran.out, "Room", "CAVE-1 (The first cave), QM")
    assert has_row(ran.out, "Temperature", "mean 11.50 °C, 8.1 to 19.5")
    assert has_row(ran.out, "Deficit", "0.1052 kPa, mean")
    assert has_row(ran.out, "Degree-hours", "512.3 °C h above 8 °C")
    assert has_row(ran.out, "Outside", "too warm 36 h, too dry 24 h")
    assert has_row(ran.out, "too warm", "CAVE-1", "2026-02-13 06:30+01:00", "36", "14", "19.5")
    assert has_row(ran.out, "no reading", "CAVE-1", "2026-03-05 06:30+01:00 to", "48")
    assert "nothing is bridged for longer than 90 minutes" in ran.out
    assert SAFETY_NOTE in ran.out
    assert dict(airy.requests[0].query) == {"base_c": "10.0", "series": "hours"}


@pytest.mark.parametrize(
    ("given", "asked"),
    [
        ("2026-02-03", "2026-02-03T00:00:00+01:00"),
        ("2026-02-03T06:30", "2026-02-03T06:30:00+01:00"),
        ("2026-02-03 06:30Z", "2026-02-03T06:30:00Z"),
    ],
)
def test_a_time_without_an_offset_is_local(
    run: Run, airy: FakeServer, given: str, asked: str
) -> None:
    """A day begins at midnight here; a time with an offset keeps it."""
    assert run("climate", "CAVE-1", "--from", given, "--until", "2026-03-17").code == 0
    assert dict(airy.requests[0].query)["from_at"] == asked


def test_hours_and_days_are_listed_if_asked_for(run: Run, airy: FakeServer) -> None:
    """The series stands below the picture; more than a thousand hours as plain lines."""
    ran = run("climate", "CAVE-1", "--series", "hours")
    assert has_row(ran.out, "2026-02-03 06:30+01:00", "CAVE-1", "9.0", "8.8", "9.2", "93.0")
    assert dict(airy.requests[0].query)["series"] == "hours"
    assert not has_row(run("climate", "CAVE-1").out, "2026-02-03 06:30+01:00", "CAVE-1", "9.0")


@pytest.mark.parametrize("fmt", ["svg", "png", "pdf"])
@pytest.mark.parametrize("command", ["climate", "conditions"])
def test_a_picture_goes_into_the_file_that_is_named(
    run: Run, airy: FakeServer, tmp_path: Path, command: str, fmt: str
) -> None:
    """In the format its name ends with; the words are shown all the same."""
    airy.answer_picture(command, f"a {fmt}".encode())
    out = tmp_path / f"air.{fmt.upper()}"
    thing = "CAVE-1" if command == "climate" else PORTION
    ran = run(command, thing, "--picture", str(out))
    assert (ran.code, out.read_bytes()) == (0, f"a {fmt}".encode())
    assert SAFETY_NOTE in ran.out
    assert dict(airy.requests[0].query)["format"] == fmt


def test_a_picture_that_cannot_be_written_is_told(
    run: Run, airy: FakeServer, tmp_path: Path
) -> None:
    """A name that ends otherwise, a folder that is not there: wrong usage; one that the server
    cannot make: refused.
    """
    airy.answer_picture("climate", b"x")
    for name, said in (("air.gif", "should end in"), ("no/air.svg", "cannot be written")):
        ran = run("climate", "CAVE-1", "--picture", str(tmp_path / name))
        assert (ran.code, said in ran.err) == (2, True)
    airy.refuse_next(make_problem("no_picture", "as the test says"))
    assert run("climate", "CAVE-1", "--picture", str(tmp_path / "air.pdf")).code == 1
    assert list(tmp_path.iterdir()) == []


def test_a_blend_shows_each_path(run: Run, airy: FakeServer) -> None:
    """One picture an input; of very many the first, and how many were left out is said."""
    other = msgspec.structs.replace(PATH, lots=[SECOND, PORTION])
    paths = [PATH, other, *[PATH] * 5]
    airy.answer("conditions", msgspec.structs.replace(CONDITIONS, paths=paths, paths_left_out=3))
    out = run("conditions", PORTION).out
    assert f"Path 2 of 7: {SECOND} > {PORTION}" in out
    assert out.count("rooms   ") == 5
    assert "5 more paths are not shown" in out


def test_a_lot_without_air_says_so(run: Run, airy: FakeServer) -> None:
    """No reading at all: no curve of nothing, no mean, the hours as not observed."""
    bare = msgspec.structs.replace(
        PATH.figures,
        temperature=None,
        humidity=None,
        spells=[],
        spell_count=0,
        observed_hours=0.0,
        unobserved_hours=1008.0,
        dew_point_mean_c=None,
    )
    path = msgspec.structs.replace(
        PATH, figures=bare, series=[], stays=[], handlings=[], sixty_days=None
    )
    airy.answer("conditions", msgspec.structs.replace(CONDITIONS, paths=[path]))
    out = run("conditions", PORTION).out
    assert "Temperature in °C: not observed" in out
    assert "Relative humidity in %: not observed" in out
    assert "Stays: no room was told" in out
    assert has_row(out, "all", "42.0", "1008")


def test_weight_loss_stands_beside_the_past(run: Run, airy: FakeServer) -> None:
    """The curve, the corridor, what air explains, the wheel outside by name."""
    out = run("weight-loss", WHEEL).out
    assert has_row(out, "Outside", WHEEL)
    assert has_row(out, "2026-03-03 06:30+01:00", "28.0", "8.100", "10.00", "above")
    assert has_row(out, "28.0", "900", "510", "106")
    assert has_row(out, "28", "40", "4.00", "5.50", "7.25")
    assert "0.535 g a kg and kPa h (95 %: 0.490 to 0.580)" in out
    assert "it explains 71 % of the loss" in out
    assert SAFETY_NOTE in out


def test_the_wheels_of_a_make_are_listed_by_their_last_weighing(run: Run, airy: FakeServer) -> None:
    """Many wheels: one line each, those outside the corridor said in words."""
    wheel = LOSS.wheels[0]
    dry = msgspec.structs.replace(wheel, points=[], outside=False)
    answer = msgspec.structs.replace(LOSS, wheels=[wheel, dry, dry, dry], corridor=[])
    airy.answer("weight_loss", answer)
    out = run("weight-loss", WHEEL).out
    assert has_row(out, WHEEL, "9.000", "28.0", "8.100", "10.00", "OUTSIDE")
    assert out.count("OUTSIDE") == 1
    assert "too few wheels to say" in out


def test_a_comparison_gives_no_verdict_on_few_wheels(run: Run, airy: FakeServer) -> None:
    """Groups, measures, differences with their intervals; the verdict in words."""
    ran = run(
        *("compare", "--by", "room", "--product", "qb-wheel", "--made-from", "2026-02-01"),
        *("--well", "A", "--well", "B", "--badly", "C"),
    )
    assert has_row(ran.out, "CAVE-1", "The first cave", "40", "30", "12", "8", "3.8")
    assert has_row(ran.out, "lost pct", "5.1 of 15", "8.4 of 15", "-0.62 (-0.85 to -0.21)")
    assert "holes, too few: Too few wheels to say." in ran.out
    assert "No verdict with fewer than 8 wheels or 3 makes" in ran.out
    assert dict(airy.requests[0].query) == {
        "by": "room",
        "product": "QB-WHEEL",
        "made_from": "2026-02-01",
        "well": "A,B",
        "badly": "C",
    }


def test_sensors_are_listed_with_their_doubts(run: Run, airy: FakeServer) -> None:
    """Where each hangs, what it showed last and how long ago; what is hard to believe."""
    out = run("sensors").out
    assert has_row(out, "S-1", "By the door", "CAVE-1", "QM", "2026-02-03 06:30+01:00")
    assert has_row(out, "S-1", "2026-03-17 06:30+01:00", "11.1", "93", "4 min")
    assert has_row(out, "S-2", "stuck", "showed 9.4 for 24 hours")


@pytest.mark.parametrize(
    ("minutes", "said"), [(119, "119 min"), (120, "2 h"), (2_879, "48 h"), (4_320, "3 days")]
)
def test_silence_is_told_in_the_unit_that_fits(
    run: Run, airy: FakeServer, minutes: float, said: str
) -> None:
    """A logger that went silent a month ago is not told in minutes."""
    sensor = msgspec.structs.replace(SENSORS.sensors[0], silent_minutes=minutes)
    airy.answer("sensors", msgspec.structs.replace(SENSORS, sensors=[sensor]))
    assert has_row(run("sensors").out, "S-1", "93", said)


@pytest.mark.parametrize(
    ("arguments", "answer"),
    [
        (["climate", "CAVE-1"], CLIMATE),
        (["conditions", PORTION], CONDITIONS),
        (["weight-loss", WHEEL], LOSS),
        (["compare"], COMPARISON),
        (["sensors"], SENSORS),
    ],
)
def test_json_is_the_answer_about_air_itself(
    run: Run, airy: FakeServer, arguments: list[str], answer: Any
) -> None:
    """A program gets the contract's answer, and no series it did not ask for is requested."""
    ran = run(*arguments, "--json")
    assert (ran.code, ran.err) == (0, "")
    assert msgspec.json.decode(ran.out, type=type(answer)) == answer
    assert "series" not in dict(airy.requests[0].query)
    assert isinstance(json.loads(ran.out), dict)


def test_mistyped_codes_and_unknown_rooms_have_their_exit_codes(
    run: Run, server: FakeServer
) -> None:
    """2 for a code that cannot be, 3 for a room that is not there."""
    assert run("conditions", MISTYPED).code == 2
    assert run("weight-loss", MISTYPED).code == 2
    assert run("climate", "no such room").code == 2
    server.refuse_next(make_problem("not_found", "no room CAVE-9"))
    assert run("climate", "CAVE-9").code == 3


def test_the_samples_are_of_the_contract() -> None:
    """What these tests show is what a server may answer."""
    for answer, shape in ((CLIMATE, ClimateAnswer), (CONDITIONS, ConditionsAnswer)):
        assert msgspec.json.decode(msgspec.json.encode(answer), type=shape) == answer
