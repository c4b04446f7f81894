"""The package as others import it: names, and how little it loads."""

import subprocess
import sys

import pytest

import rindline
import rindline.errors
import rindline.testing
from rindline._clock import RealClock


def _loaded_by(code: str) -> set[str]:
    listing = f"{code}\nimport sys\nprint(*sys.modules)"
    ran = subprocess.run(
        [sys.executable, "-c", listing], check=True, capture_output=True, text=True
    )
    return set(ran.stdout.split())


def test_every_exported_name_is_there() -> None:
    """Each name of ``__all__`` can be had, is listed by dir(), and an unknown one cannot."""
    for name in rindline.__all__:
        assert getattr(rindline, name).__name__ == name
    assert dir(rindline) == rindline.__all__
    with pytest.raises(AttributeError, match="Cheese"):
        _ = rindline.Cheese


def test_every_error_is_exported() -> None:
    """Whoever catches an error finds its class at the top."""
    assert set(rindline.errors.__all__) <= set(rindline.__all__)
    for name in rindline.errors.__all__:
        error = getattr(rindline, name)
        assert error is rindline.problem_error or issubclass(error, rindline.RindlineError)


def test_importing_it_loads_next_to_nothing() -> None:
    """``import rindline`` waits neither for httpx nor for the contract nor for rich: what it
    costs is asserted as what it loads, since times differ between machines.
    """
    loaded = _loaded_by("import rindline")
    assert "rindline" in loaded
    assert loaded & {"httpx", "msgspec", "rich", "asyncio", "rindline_schema"} == set()


def test_the_client_waits_for_httpx_only_when_it_is_made() -> None:
    """With a stand-in transport httpx is never loaded; without one it is."""
    stand_in = "import rindline, rindline.testing as t\nrindline.Client(transport=t.FakeServer())"
    assert _loaded_by(stand_in) & {"httpx", "rich"} == set()
    assert "httpx" in _loaded_by("import rindline\nrindline.Client()")


def test_help_loads_neither_httpx_nor_rich() -> None:
    """``rindline --help`` answers at once."""
    code = "import rindline.cli\ntry:\n    rindline.cli.main(['--help'])\nexcept SystemExit: pass"
    assert _loaded_by(code) & {"httpx", "rich"} == set()


def test_the_real_clock_is_aware_and_goes_on() -> None:
    """Times carry an offset, the monotonic clock does not go back, chance stays in its span."""
    clock = RealClock()
    assert clock.now().utcoffset() is not None
    before = clock.monotonic_s()
    clock.sleep(0.001)
    assert clock.monotonic_s() > before
    drawn = [clock.chance() for _ in range(200)]
    assert all(0 <= number < 1 for number in drawn)
    assert len(set(drawn)) > 190
    assert len({clock.random_bytes(10) for _ in range(200)}) == 200
