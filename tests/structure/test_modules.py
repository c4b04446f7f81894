"""Sizes, names and unfinished business of the source itself. The limits are this project's own."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from tests.structure.source import PACKAGES, ROOT, kept_files, modules

_MODULE_LINES = 400
_FUNCTION_LINES = 70
_EMPTY_NAMES = {"common", "helper", "helpers", "lib", "libs", "misc", "util", "utils"}
# Spelled apart, or this file would find itself.
_UNFINISHED = re.compile("|".join(("TO" + "DO", "FIX" + "ME", "XX" + "X", "HA" + "CK")))


def _functions(path: Path) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(ast.parse((ROOT / path).read_text("utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def test_the_packages_are_seen() -> None:
    """The other tests here look at something: every package has modules among the kept files."""
    found = set(modules())
    for package in PACKAGES.values():
        assert (package / "__init__.py").relative_to(ROOT) in found


def test_a_module_is_no_longer_than_the_limit() -> None:
    """Every module stays small enough to be read in one sitting."""
    lines = {path: len((ROOT / path).read_text("utf-8").splitlines()) for path in modules()}
    assert {path: count for path, count in lines.items() if count > _MODULE_LINES} == {}


def test_a_function_is_no_longer_than_the_limit() -> None:
    """Every function stays small enough to be seen at once, decorators and docstring included."""
    long = [
        f"{path}:{function.lineno} {function.name}"
        for path in modules()
        for function in _functions(path)
        if (function.end_lineno or 0)
        - min(part.lineno for part in (function, *function.decorator_list))
        >= _FUNCTION_LINES
    ]
    assert long == []


def test_a_module_is_named_by_what_it_does() -> None:
    """No file or folder of code has a name under which anything could be put."""
    empty = [
        path
        for path in modules()
        if _EMPTY_NAMES & {part.strip("_").lower() for part in path.with_suffix("").parts}
    ]
    assert empty == []


def test_nothing_is_left_unfinished() -> None:
    """No text in the repository says that something is still to be done or is a makeshift."""
    marked = []
    for path in kept_files():
        try:
            text = (ROOT / path).read_text("utf-8")
        except UnicodeDecodeError:
            continue
        marked += [
            f"{path}:{number}"
            for number, line in enumerate(text.splitlines(), 1)
            if _UNFINISHED.search(line)
        ]
    assert marked == []


def test_every_test_says_what_it_shows() -> None:
    """Each test function has a docstring: what is shown to hold, for a reader of a failure."""
    silent = [
        f"{path}:{function.lineno} {function.name}"
        for path in modules()
        if path.parts[0] == "tests"
        for function in _functions(path)
        if function.name.startswith("test_") and not ast.get_docstring(function)
    ]
    assert silent == []
