"""What the demo asks at the end: with the command line of the SDK, as anybody would."""

import os
import shlex
from collections.abc import Sequence

from rindline.cli import main as rindline

__all__ = ["ask"]


def ask(server: str, key: str, words: Sequence[str]) -> int:
    """Run ``rindline`` with some words, showing the command first; gives its exit code."""
    print(f"\n$ rindline {shlex.join(words)}\n", flush=True)
    os.environ["RINDLINE_SERVER"] = server
    os.environ["RINDLINE_KEY"] = key
    return rindline(list(words))
