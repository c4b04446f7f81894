"""How much room words take in a face nobody knows yet, and how they are broken into lines.

The reader's machine chooses the face, so widths are those of a wide one (DejaVu Sans, measured)
and a little more: a narrower face leaves some air. In files the face is our own, a narrow one,
and words take at most :data:`OWN_FACE` of that.
"""

import re
import unicodedata

__all__ = [
    "LINE_EM",
    "OWN_FACE",
    "height_above",
    "height_below",
    "is_known",
    "plain",
    "shorten",
    "width",
    "wrap",
]

LINE_EM = 1.42
"""From one line to the next, in sizes of the letters."""

OWN_FACE = 0.85
"""The share of the reckoned width that IBM Plex Sans Condensed takes at most, letter by letter."""

_ABOVE_EM, _BELOW_EM = 1.05, 0.33
_BOLD = 1.13
# Widths in em of letters of one width, measured in regular and bold, rounded up to 0.05.
_WIDTHS: dict[str, float] = {
    letter: em
    for em, letters in (
        (0.30, "'"),
        (0.35, " \u00a0,.ijl·"),
        (0.40, ":;f"),
        (0.45, "!()[]rt\u203a-I/\\|"),
        (0.50, '"'),
        (0.55, "?sz°J"),
        (0.60, "Lc*"),
        (0.65, "FTaekovxyé_\u2013"),
        (0.70, "$0123456789EPSYbdghnpqu{}`üñ"),
        (0.75, "ABCKRVXZß"),
        (0.80, "DGHNU"),
        (0.85, "&OQw"),
        (0.90, "#+<=>^~\u2212\u00d7≤≥±←→"),
        (0.95, "M"),
        (1.00, "%½"),
        (1.10, "@Wm—…"),
    )
    for letter in letters
}
_LATIN_EM, _OTHER_EM = 1.1, 1.4
_UNPRINTABLE = re.compile(r"[\x00-\x20\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]+")


def plain(words: str) -> str:
    """Put one space in place of what has no glyph or may not stand in XML."""
    return _UNPRINTABLE.sub(" ", words).strip()


def is_known(words: str) -> bool:
    """Say whether all the letters are ones whose width can be foreseen."""
    return all(letter in _WIDTHS or _is_latin(letter) for letter in words)


def width(words: str, size: float, *, bold: bool = False) -> float:
    """Give the room the words take at most, in units of the picture."""
    return sum(map(_em, words)) * size * (_BOLD if bold else 1.0)


def height_above(size: float) -> float:
    """Give the room above the line the letters stand on."""
    return _ABOVE_EM * size


def height_below(size: float) -> float:
    """Give the room below that line."""
    return _BELOW_EM * size


def shorten(words: str, room: float, size: float, *, bold: bool = False) -> str:
    """Give the words, or their beginning and an ellipsis, so that they fit."""
    if width(words, size, bold=bold) <= room:
        return words
    end = len(words)
    while end and width(words[:end].rstrip() + "…", size, bold=bold) > room:
        end -= 1
    return words[:end].rstrip() + "…"


def wrap(
    words: str, room: float, size: float, *, bold: bool = False, most: int | None = None
) -> list[str]:
    """Break words into lines that fit; of more than ``most`` lines the last ends with "…"."""
    lines: list[str] = []
    line = ""
    for word in plain(words).split(" "):
        for piece in _pieces(word, room, size, bold=bold):
            longer = f"{line} {piece}" if line else piece
            if width(longer, size, bold=bold) <= room:
                line = longer
                continue
            if line:
                lines.append(line)
            line = piece
    if line:
        lines.append(line)
    if most is not None and len(lines) > most:
        # More than fits a line, so that it is shortened for certain.
        rest = " ".join(lines[most - 1 :])
        lines = [*lines[: most - 1], shorten(rest, room, size, bold=bold)]
    return lines


def _pieces(word: str, room: float, size: float, *, bold: bool) -> list[str]:
    """Break one word that is longer than a line, wherever a line ends."""
    if width(word, size, bold=bold) <= room:
        return [word]
    pieces, piece = [], ""
    for letter in word:
        if piece and width(piece + letter, size, bold=bold) > room:
            pieces.append(piece)
            piece = ""
        piece += letter
    return [*pieces, piece]


def _em(letter: str) -> float:
    known = _WIDTHS.get(letter)
    if known is not None:
        return known
    return _LATIN_EM if _is_latin(letter) else _OTHER_EM


def _is_latin(letter: str) -> bool:
    return letter < "\u0180" and not unicodedata.combining(letter)
