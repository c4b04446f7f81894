"""``rindline stamp`` and the two example scripts, beside a played scale and a server."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from rindline import Client
from rindline_schema.codes import is_lot_code, kind_of_code
from rindline_schema.events import Cut, Hoop, Place
from rindline_schema.registers import Product, Site
from tests.sdk.samples import MAKE, WHEEL
from tests.stations.outbox_server import StationServer, serving
from tests.stations.scale_desk import LiveScale, kept, live_scale, until
from tests.structure.source import ROOT

_ENTRIES: list[Site | Product] = [
    Site(code="QM", name="Quillmere Dairy", address="Quillmere", approval_number="XQ 0101"),
    Product(code="QB-EIGHTH", name="Quillmere Blue, eighth", kind="portion"),
    Product(code="QB-WHEEL", name="Quillmere Blue", kind="wheel"),
]
# Eight pieces of a wheel of 8,012 g, cut by hand (constructed); one of them is far too heavy.
_PIECES_G = [1010, 980, 1003, 1001, 995, 1020, 990, 1005]
# The examples want a mass to stand half a second; the played scale writes hundreds of lines in it.
_SELDOM = 3000


@pytest.fixture
def server() -> Iterator[StationServer]:
    """Gives a server that knows the site and the products."""
    with serving() as made:
        with Client(_address(made)) as client:
            for entry in _ENTRIES:
                client.declare(entry)
        yield made


def _address(server: StationServer) -> str:
    return "http://{}:{}".format(*server.address)


@contextmanager
def _started(
    command: list[str], folder: Path, server: StationServer, answers: str = ""
) -> "Iterator[subprocess.Popen[str]]":
    environment = {**os.environ, "RINDLINE_SERVER": _address(server)}
    process = subprocess.Popen(
        [sys.executable, *command],
        cwd=folder,
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdin is not None
    process.stdin.write(answers)
    process.stdin.close()
    process.stdin = None
    with process:
        try:
            yield process
        finally:
            process.kill()


def _stamp(scale: LiveScale, folder: Path, *more: str) -> list[str]:
    outbox = ["--outbox", str(folder / "outbox.db"), "--registers", str(folder / "reg.json")]
    labels = ["--labels-in", str(folder)]
    product = ["--product", "QB-EIGHTH"]
    return ["-m", "rindline", "stamp", WHEEL, *product, *scale.options, *outbox, *labels, *more]


def _weigh_all(scale: LiveScale, outbox: Path, masses: list[int], before: int = 0) -> None:
    for done, mass_g in enumerate(masses, before + 1):
        scale.put(mass_g)
        until(lambda done=done: len(kept(outbox)) >= done)  # type: ignore[misc]
        scale.lift()


def _cuts(outbox: Path) -> list[Cut]:
    return [event for event in kept(outbox) if isinstance(event, Cut)]


def _codes(cuts: list[Cut]) -> list[str]:
    codes = [piece.lot for cut in cuts for piece in cut.pieces if piece.lot is not None]
    assert all(is_lot_code(code) and kind_of_code(code) == "portion" for code in codes)
    return codes


def test_a_wheel_is_cut_and_stamped(tmp_path: Path, server: StationServer) -> None:
    """Eight pieces, halved across and quartered: each with its mass, its place, a code of its own
    and a label; the server hears of all; the last says that nothing is left.
    """
    outbox = tmp_path / "outbox.db"
    with (
        live_scale() as scale,
        _started(_stamp(scale, tmp_path, "--wheel-g", "8012"), tmp_path, server) as process,
    ):
        _weigh_all(scale, outbox, _PIECES_G)
        out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, "")
    cuts = _cuts(outbox)
    assert [piece.mass_g for cut in cuts for piece in cut.pieces] == _PIECES_G
    assert [piece.place for cut in cuts for piece in cut.pieces] == [
        Place(from_deg=start, to_deg=start + 90, layer=layer)
        for layer in ("upper", "lower")
        for start in range(0, 360, 90)
    ]
    assert [cut.finished for cut in cuts] == [False] * 7 + [True]
    codes = _codes(cuts)
    assert len(set(codes)) == 8
    assert {path.stem for path in tmp_path.glob("*.pdf")} == set(codes)
    assert [event for event in server.told() if isinstance(event, Cut)] == cuts
    assert "8 stamped" in out


def test_a_piece_of_another_wheel_is_not_stamped_unasked(
    tmp_path: Path, server: StationServer
) -> None:
    """A piece half as heavy again as its place allows, and nobody to ask: no code, no event, no
    label for it; and the command says with which piece to go on.
    """
    outbox = tmp_path / "outbox.db"
    with live_scale() as scale:
        with _started(_stamp(scale, tmp_path, "--wheel-g", "8012"), tmp_path, server) as process:
            _weigh_all(scale, outbox, _PIECES_G[:2])
            scale.put(1500)
            out, err = process.communicate(timeout=60)
            assert process.returncode == 1
            assert "1500 g lies outside 801 to 1203 g" in err
            assert "another wheel" in err
            assert "To go on: --from 3 --wheel-g 8012" in out
            assert len(_cuts(outbox)) == len(list(tmp_path.glob("*.pdf"))) == 2
            scale.lift()
        more = _stamp(scale, tmp_path, "--from", "3", "--wheel-g", "8012")
        with _started(more, tmp_path, server) as process:
            _weigh_all(scale, outbox, _PIECES_G[2:], before=2)
            assert process.wait(60) == 0
    cuts = _cuts(outbox)
    assert [piece.mass_g for cut in cuts for piece in cut.pieces] == _PIECES_G
    assert len(set(_codes(cuts))) == 8
    # Whether the first two were the whole rest, this run cannot know.
    assert not any(cut.finished for cut in cuts)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--pattern", "thirds"], "is no pattern"),
        (["--pattern", "wedges:25"], "do not fill the round"),
        (["--from", "9"], "a piece from 1 to 8"),
        (["--size", "1x1"], "no size"),
        (["--product", "QB-WHEEL"], "no piece of a wheel"),
    ],
)
def test_what_cannot_be_cut_is_refused(
    tmp_path: Path, server: StationServer, options: list[str], said: str
) -> None:
    """A pattern, piece or label size that does not exist ends the command with exit code 2."""
    with (
        live_scale() as scale,
        _started(_stamp(scale, tmp_path, *options), tmp_path, server) as process,
    ):
        _, err = process.communicate(timeout=60)
    assert process.returncode == 2
    assert said in err


def test_the_example_cuts_and_stamps(tmp_path: Path, server: StationServer) -> None:
    """The cutting example, as it stands in the repository: the wheel and its eight pieces, one of
    which somebody has to confirm.
    """
    outbox = tmp_path / "outbox.db"
    masses = [*_PIECES_G[:7], 1300]
    script = str(ROOT / "sdk" / "examples" / "cut_and_stamp.py")
    with live_scale(_SELDOM) as scale:
        command = [script, WHEEL, scale.pair.path, str(outbox)]
        with _started(command, tmp_path, server, answers="y\n") as process:
            scale.put(8012)
            assert process.stdout is not None
            assert process.stdout.readline() == f"{WHEEL}  8012 g\n"
            scale.lift()
            _weigh_all(scale, outbox, masses)
            out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, "")
    assert "1300 g lies outside 801 to 1203 g" in out
    cuts = _cuts(outbox)
    assert [piece.mass_g for cut in cuts for piece in cut.pieces] == masses
    assert {cut.weighed_g for cut in cuts} == {8012}
    assert {path.stem for path in tmp_path.glob("*.pdf")} == set(_codes(cuts))
    assert [event for event in server.told() if isinstance(event, Cut)] == cuts


def test_the_example_weighs_and_hoops(tmp_path: Path, server: StationServer) -> None:
    """The hooping example, as it stands in the repository: three wheels, each with its code and
    label; the last says that nothing of the make is left.
    """
    outbox = tmp_path / "outbox.db"
    masses = [11_020, 10_980, 11_000]
    script = str(ROOT / "sdk" / "examples" / "weigh_and_hoop.py")
    with live_scale(_SELDOM) as scale:
        command = [script, MAKE, "3", scale.pair.path, str(outbox)]
        with _started(command, tmp_path, server) as process:
            _weigh_all(scale, outbox, masses)
            out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, "")
    hoops = [event for event in kept(outbox) if isinstance(event, Hoop)]
    wheels = [wheel for hoop in hoops for wheel in hoop.wheels]
    assert [wheel.mass_g for wheel in wheels] == masses
    assert [hoop.finished for hoop in hoops] == [False, False, True]
    assert len({wheel.lot for wheel in wheels}) == 3
    assert {path.stem for path in tmp_path.glob("*.pdf")} == {wheel.lot for wheel in wheels}
    assert [event for event in server.told() if isinstance(event, Hoop)] == hoops
    assert out.count("queued:") == 3
