"""For what a picture is drawn: how wide it is, and how much room its words take."""

from typing import NamedTuple

from rindline_server.pages.letters import OWN_FACE

__all__ = ["CARD", "PAPER", "SCREEN", "Look"]


class Look(NamedTuple):
    """So many units wide, with strips so high; words take this share of the widest face's room."""

    wide: float
    letters: float
    strips: tuple[float, float]


SCREEN = Look(360.0, 1.0, (120.0, 92.0))
"""SVG: as wide as a phone, in whatever face the reader's machine has."""
CARD = Look(360.0, OWN_FACE, (120.0, 92.0))
"""PNG: as wide as a phone, in our own face."""
PAPER = Look(560.0, OWN_FACE, (132.0, 96.0))
"""PDF: 560 units are the width of A4 between its margins, so letters of 11 units are 10 points."""
