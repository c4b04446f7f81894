"""What the tests on structure read: the committed files and the modules among them."""

import subprocess
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = {
    "rindline_schema": ROOT / "schema" / "rindline_schema",
    "rindline_server": ROOT / "server" / "rindline_server",
    "rindline": ROOT / "sdk" / "rindline",
}


@cache
def kept_files() -> tuple[Path, ...]:
    """Every file that git keeps or would keep, relative to the root: no build output, no venv."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    paths = (Path(name) for name in listed.stdout.split("\0") if name)
    return tuple(sorted(path for path in paths if (ROOT / path).is_file()))


@cache
def modules() -> tuple[Path, ...]:
    """Every Python file of the three packages and the tests, relative to the root."""
    return tuple(path for path in kept_files() if path.suffix == ".py")
