"""The command line for people: ``rindline``."""

from rindline.cli._main import main

__all__ = ["main"]
