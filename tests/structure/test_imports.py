"""What importing a package costs and what a package is allowed to lean on."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from tests.structure.source import PACKAGES, ROOT, modules

# Of the extra `labels`, and imported when a label is drawn.
_OF_LABELS = {"fontpkg_ibm_plex_sans_condensed", "typst", "zxingcpp"}
_MAY_LEAN_ON = {
    "rindline_schema": {"rindline_schema", "msgspec"},
    "rindline": {"rindline", "rindline_schema", "msgspec", "httpx", "rich", *_OF_LABELS},
}
_HEAVY = {
    "alembic",
    "granian",
    "litestar",
    "psycopg",
    "rich",
    "rindline_server",
    "sqlalchemy",
    *_OF_LABELS,
}


def _imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse((ROOT / path).read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.module is not None, f"relative import in {path}"
            names.add(node.module.partition(".")[0])
    return names


@pytest.mark.parametrize("package", _MAY_LEAN_ON)
def test_a_package_leans_only_on_what_it_declares(package: str) -> None:
    """The contract needs msgspec alone, the SDK the base install alone, wherever they import it."""
    folder = PACKAGES[package].relative_to(ROOT)
    inside = [path for path in modules() if path.is_relative_to(folder)]
    assert inside
    needed = set[str]().union(*map(_imported, inside)) - sys.stdlib_module_names
    assert needed <= _MAY_LEAN_ON[package]


@pytest.mark.parametrize("package", ["rindline", "rindline_schema", "rindline.cli"])
def test_importing_the_sdk_is_quick(package: str) -> None:
    """A station's script loads neither the server's packages nor the tables it doesn't draw."""
    question = f"import sys, {package}; print(*sys.modules)"
    answer = subprocess.run(
        [sys.executable, "-W", "error", "-c", question], check=True, capture_output=True, text=True
    )
    loaded = {name.partition(".")[0] for name in answer.stdout.split()}
    assert package.partition(".")[0] in loaded
    assert not loaded & _HEAVY
