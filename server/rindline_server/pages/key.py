"""The key of a picture: what its lines and fills mean."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from rindline_server.pages.figures import MARGIN
from rindline_server.pages.letters import LINE_EM, height_above
from rindline_server.pages.patterns import BEYOND, GAP
from rindline_server.pages.sheet import INK, LEAST_SIZE, Place, Sheet
from rindline_server.pages.strips import BAND, COURSE, LIMIT_DASH

__all__ = ["KeyEntry", "draw_key", "key_of_strips"]

_SWATCH = 20.0
_ROW = LINE_EM * LEAST_SIZE + 1


class KeyEntry(NamedTuple):
    """A sample drawn at a place, 20 wide and 11 high, and what it means."""

    sample: Callable[[Sheet, float, float], None]
    words: str


def draw_key(sheet: Sheet, entries: Sequence[KeyEntry], top: float) -> float:
    """Set the entries one beside another, as many a row as fit."""
    x = MARGIN
    for entry in entries:
        wide = _SWATCH + 5 + sheet.width(entry.words)
        if x > MARGIN and x + wide > sheet.wide - MARGIN:
            x, top = MARGIN, top + _ROW
        entry.sample(sheet, x, top + 2)
        sheet.text(Place(x + _SWATCH + 5, top + height_above(LEAST_SIZE)), entry.words)
        x += wide + 12
    return top + _ROW


def key_of_strips(
    name: str, *, by: str, has_limits: bool, has_gaps: bool, has_spells: bool
) -> list[KeyEntry]:
    """Give the entries a strip needs; ``by`` is the length of its pieces: hour or day."""
    entries = [
        KeyEntry(_mean, f"mean of each {by}"),
        KeyEntry(_filled(BAND, "none"), "least to most"),
    ]
    if has_limits:
        entries.append(KeyEntry(_dashes, "limit of the room"))
    if has_gaps:
        entries.append(KeyEntry(_filled(f"url(#{name}-{GAP})", "#555"), "not observed"))
    if has_spells:
        entries.append(KeyEntry(_filled(f"url(#{name}-{BEYOND})", "#8a1c10"), "beyond a limit"))
    return entries


def _mean(sheet: Sheet, x: float, y: float) -> None:
    sheet.shape("path", d=f"M{x:.2f} {y + 6:.2f}h{_SWATCH}", stroke=COURSE, stroke_width=1.5)


def _dashes(sheet: Sheet, x: float, y: float) -> None:
    line = f"M{x:.2f} {y + 6:.2f}h{_SWATCH}"
    sheet.shape("path", d=line, stroke=INK, stroke_width=1.3, stroke_dasharray=LIMIT_DASH)


def _filled(fill: str, stroke: str) -> Callable[[Sheet, float, float], None]:
    def sample(sheet: Sheet, x: float, y: float) -> None:
        sheet.shape("rect", x=x, y=y, width=_SWATCH, height=11, fill=fill, stroke=stroke)

    return sample
