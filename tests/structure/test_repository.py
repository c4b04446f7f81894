"""What lies where in the repository, and what its papers promise."""

import re
import tomllib
from typing import Any

import pytest

from tests.structure.source import ROOT, kept_files

_TOP_LEVEL = {
    "DEVELOPERS.md",
    "README.md",
    "docker",
    "pyproject.toml",
    "schema",
    "sdk",
    "server",
    "tests",
}
_GENERATED_OR_PACKAGED = [
    "schema/rindline_schema/py.typed",
    "sdk/rindline/py.typed",
    "server/rindline_server/py.typed",
]


def _project() -> dict[str, Any]:
    with (ROOT / "pyproject.toml").open("rb") as file:
        project: dict[str, Any] = tomllib.load(file)["project"]
    return project


def test_the_top_level_holds_nothing_unexpected() -> None:
    """A newcomer sees only the documented folders and papers, besides hidden files."""
    found = {path.parts[0] for path in kept_files()}
    assert {name for name in found if not name.startswith(".")} == _TOP_LEVEL


def test_the_changelog_tells_of_this_version() -> None:
    """The version in pyproject.toml has a heading of its own in the changelog."""
    changelog = (ROOT / "schema" / "CHANGELOG.md").read_text("utf-8")
    assert re.search(rf"^## {re.escape(_project()['version'])}\b", changelog, re.MULTILINE)


@pytest.mark.parametrize("name", _GENERATED_OR_PACKAGED)
def test_the_packages_say_that_they_are_typed(name: str) -> None:
    """Each package carries the marker of PEP 561, so that a user's type checker reads its types."""
    assert (ROOT / name).is_file()


def test_the_readme_gives_the_two_commands() -> None:
    """README has one line that shows the demo and one that runs the tests, which CI reads there."""
    lines = (ROOT / "README.md").read_text("utf-8").splitlines()
    commands = [line for line in lines if line.startswith("python3 -m venv")]
    assert len([line for line in commands if line.endswith("rindline-server demo")]) == 1
    assert len([line for line in commands if line.endswith("-m pytest")]) == 1


def test_the_base_install_is_small() -> None:
    """Whoever installs only the SDK gets the contract, the HTTP client and the tables: no more."""
    names = {re.split(r"[<>=~! \[]", need)[0] for need in _project()["dependencies"]}
    assert names == {"httpx", "msgspec", "rich"}
