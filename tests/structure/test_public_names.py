"""What the distribution promises: the names that users may import, kept in a reviewed list.

After a wanted change: `python -m tests.structure.test_public_names` writes the list anew.
"""

import importlib
import json
from pathlib import Path

import pytest

_PUBLIC = [
    "rindline",
    "rindline.labels",
    "rindline.logger_files",
    "rindline.outbox",
    "rindline.stations",
    "rindline.testing",
    "rindline_schema",
    "rindline_schema.answers",
    "rindline_schema.events",
    "rindline_schema.labels",
]
_LIST = Path(__file__).with_name("public_names.json")


def _exported(package: str) -> list[str]:
    names: list[str] = importlib.import_module(package).__all__
    return sorted(names)


@pytest.mark.parametrize("package", _PUBLIC)
def test_the_public_names_are_the_agreed_ones(package: str) -> None:
    """No name enters or leaves a public package unseen, and each one is really there."""
    agreed = json.loads(_LIST.read_text("utf-8"))
    assert _exported(package) == agreed[package]
    module = importlib.import_module(package)
    assert [name for name in agreed[package] if not hasattr(module, name)] == []


if __name__ == "__main__":
    listing = {package: _exported(package) for package in _PUBLIC}
    _LIST.write_text(json.dumps(listing, indent=2) + "\n", "utf-8")
