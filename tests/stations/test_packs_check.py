"""``rindline packs-check``: a file of masses, three rules, an exit code."""

import io
import json
from pathlib import Path

import pytest

from rindline.cli import main
from rindline.testing import FakeServer
from rindline_schema import SAFETY_NOTE

_MASSES = "150.2 149.9\n# a new roll of film\n151   150\n"


def _check(*arguments: str) -> int:
    return main(["packs-check", *arguments], transport=FakeServer())


def test_packs_within_say_so_as_arithmetic(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The figures, each rule, the directive, that catch weight lies outside, and who decides."""
    file = tmp_path / "masses.txt"
    file.write_text(_MASSES, "utf-8")
    assert _check(str(file), "--nominal", "150") == 0
    out = " ".join(capsys.readouterr().out.split())
    for part in (
        "143.200 g",
        "136.400 g",
        "150.275 g holds",
        "0 of 4 (0.0 %) holds",
        "For these 4 packs all three rules hold, by arithmetic. Directive 76/211/EEC",
        "Catch-weight pieces",
        SAFETY_NOTE,
    ):
        assert part in out


def test_packs_outside_end_with_one(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A light run: which rules do not hold is said, and the exit code says it too."""
    file = tmp_path / "masses.txt"
    file.write_text("136.3 150 150", "utf-8")
    assert _check(str(file), "--nominal", "150") == 1
    out = capsys.readouterr().out
    assert out.count("DOES NOT HOLD") == 3
    assert "not all three rules hold" in out


def test_json_from_standard_input(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """For programs: masses on standard input, exact milligrams as JSON."""
    monkeypatch.setattr("sys.stdin", io.StringIO(_MASSES))
    assert _check("-", "--nominal", "150", "--json") == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["t1_mg"], answer["t2_mg"], answer["mean_mg"]) == (143_200, 136_400, 150_275)
    assert (answer["within"], answer["packs"], answer["safety"]) == (True, 4, SAFETY_NOTE)


@pytest.mark.parametrize(
    ("text", "said"), [("", "no packs"), ("150 l50", "line 1: 'l50'"), ("0", "not a mass above")]
)
def test_a_file_of_something_else_is_usage(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str, said: str
) -> None:
    """An empty file, a misread figure or a mass that is none: exit code 2, and where it is."""
    file = tmp_path / "masses.txt"
    file.write_text(text, "utf-8")
    assert _check(str(file), "--nominal", "150") == 2
    assert said in capsys.readouterr().err
    assert _check(str(tmp_path / "nothing"), "--nominal", "150") == 2
