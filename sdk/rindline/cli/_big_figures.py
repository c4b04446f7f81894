"""Figures that are read from across the table."""

__all__ = ["big"]

_ROWS = {
    "0": ("███", "█ █", "█ █", "█ █", "███"),
    "1": (" █ ", "██ ", " █ ", " █ ", "███"),
    "2": ("███", "  █", "███", "█  ", "███"),
    "3": ("███", "  █", "███", "  █", "███"),
    "4": ("█ █", "█ █", "███", "  █", "  █"),
    "5": ("███", "█  ", "███", "  █", "███"),
    "6": ("███", "█  ", "███", "█ █", "███"),
    "7": ("███", "  █", "  █", "  █", "  █"),
    "8": ("███", "█ █", "███", "█ █", "███"),
    "9": ("███", "█ █", "███", "  █", "███"),
    "-": ("   ", "   ", "███", "   ", "   "),
    ".": (" ", " ", " ", " ", "█"),
    " ": (" ", " ", " ", " ", " "),
}


def big(text: str) -> list[str]:
    """Write figures, points, minus signs and spaces in five rows, each cell two columns wide."""
    letters = [_ROWS[letter] for letter in text]
    rows = ["  ".join(letter[row] for letter in letters) for row in range(5)]
    return ["".join(cell * 2 for cell in row) for row in rows]
