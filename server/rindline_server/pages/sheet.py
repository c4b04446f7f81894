"""A sheet to draw on: it escapes what it is given and knows where its words stand.

Words lie above all shapes. A label that may be left out asks for a free place.
"""

from collections.abc import Iterable, Sequence
from typing import Literal, NamedTuple
from xml.sax.saxutils import escape, quoteattr

from rindline_server.pages.letters import (
    LINE_EM,
    height_above,
    height_below,
    is_known,
    plain,
    shorten,
    width,
    wrap,
)
from rindline_server.pages.look import Look

__all__ = ["FAINT", "FONTS", "INK", "LEAST_SIZE", "Anchor", "Box", "Place", "Sheet", "Written"]

Anchor = Literal["start", "middle", "end"]

INK, FAINT = "#111", "#444"
LEAST_SIZE = 11.0
"""No words are smaller: at 360 pixels a unit of the picture is a pixel."""
FONTS = 'font-family="Helvetica, Arial, sans-serif"'


class Box(NamedTuple):
    """A place on the sheet."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        """Say whether the two overlap; touching is none."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def is_in(self, other: "Box") -> bool:
        """Say whether it lies wholly within another."""
        return (
            other.left <= self.left
            and self.right <= other.right
            and other.top <= self.top
            and self.bottom <= other.bottom
        )

    def shared(self, other: "Box") -> float:
        """Give the area that both cover."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return max(wide, 0.0) * max(high, 0.0)


class Written(NamedTuple):
    """Words on the sheet and the room they take at most."""

    words: str
    box: Box


class Place(NamedTuple):
    """Where words could stand: the point their line begins, has its middle, or ends at."""

    x: float
    y: float
    anchor: Anchor = "start"


class Sheet:
    """A picture in the making."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self.wide = look.wide
        self.written: list[Written] = []
        self._kept: list[Box] = []
        self._defs: list[str] = []
        self._shapes: list[str] = []
        self._words: list[str] = []

    def define(self, markup: str) -> None:
        """Add a definition, such as a pattern; the markup is taken as it is."""
        self._defs.append(markup)

    def shape(self, tag: str, **attributes: str | float) -> None:
        """Draw a shape; ``class_`` gives the class, underscores are hyphens."""
        self._shapes.append(f"<{tag}{_attributes(attributes)}/>")

    def width(self, words: str, size: float = LEAST_SIZE, *, bold: bool = False) -> float:
        """Give the room that words take at most."""
        return width(words, size * self.look.letters, bold=bold)

    def shorten(self, words: str, room: float) -> str:
        """Give the words, or as much of their beginning as fits."""
        return shorten(plain(words), room, LEAST_SIZE * self.look.letters)

    def keep_clear(self, box: Box) -> None:
        """Let no label be placed there later."""
        self._kept.append(box)

    def text(
        self,
        place: Place,
        words: str,
        *,
        size: float = LEAST_SIZE,
        bold: bool = False,
        halo: bool = False,
    ) -> Box:
        """Write words on one line; the caller knows that the place is free."""
        words = plain(words)
        box = self._box(place, words, size, bold=bold)
        if not words:
            return box
        self.written.append(Written(words, box))
        look: dict[str, str | float] = {"x": place.x, "y": place.y, "fill": INK}
        if size != LEAST_SIZE:
            look["font_size"] = size
        if place.anchor != "start":
            look["text_anchor"] = place.anchor
        if bold:
            look["font_weight"] = "bold"
        if not is_known(words):
            # Letters of who knows which face are held to the room that was reckoned for them.
            look["textLength"] = box.right - box.left
            look["lengthAdjust"] = "spacingAndGlyphs"
        if halo:
            look |= {"stroke": "#fff", "stroke_width": 3, "stroke_linejoin": "round"}
            look["paint_order"] = "stroke"
        self._words.append(f"<text{_attributes(look)}>{escape(words)}</text>")
        return box

    def find(
        self,
        places: Iterable[Place],
        words: str,
        within: Box,
        *,
        bold: bool = False,
        shun: Sequence[Box] = (),
    ) -> Place | None:
        """Find a place within where words would lie over no others; None if there is none.

        The first that covers least of ``shun``, which words may lie over if they must.
        """
        free = []
        for place in places:
            box = self._box(place, plain(words), LEAST_SIZE, bold=bold)
            if box.is_in(within) and self._is_free(box):
                free.append((sum(box.shared(other) for other in shun), place))
        return min(free, key=lambda one: one[0])[1] if free else None

    def label(
        self,
        places: Iterable[Place],
        words: str,
        within: Box,
        *,
        bold: bool = False,
        shun: Sequence[Box] = (),
    ) -> Box | None:
        """Write words at the best of the places; give where, or None if none is free."""
        place = self.find(places, words, within, bold=bold, shun=shun)
        return None if place is None else self.text(place, words, bold=bold, halo=True)

    def paragraph(
        self,
        place: Place,
        words: str,
        right: float,
        *,
        size: float = LEAST_SIZE,
        bold: bool = False,
        most: int | None = None,
    ) -> float:
        """Write words over as many lines as they take; give where the next line may begin.

        ``place.y`` is the top of the first line, not what its letters stand on.
        """
        top = place.y
        room = (right - place.x) / self.look.letters
        for line in wrap(words, room, size, bold=bold, most=most):
            self.text(Place(place.x, top + height_above(size)), line, size=size, bold=bold)
            top += LINE_EM * size
        return top

    def svg(self, high: float, name: str, title: str, description: str) -> str:
        """Give the picture; ``name`` sets its ids apart from those of others on a page."""
        root = _attributes(
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "viewBox": f"0 0 {_number(self.wide)} {_number(high)}",
                "width": "100%",
                "style": f"max-width:{_number(2 * self.wide)}px;background:#fff",
                "role": "img",
                "lang": "en",
                "aria-labelledby": f"{name}-title",
                "aria-describedby": f"{name}-desc",
                "font-size": LEAST_SIZE,
            }
        )
        return "\n".join(
            (
                f"<svg{root} {FONTS}>",
                f'<title id="{name}-title">{escape(plain(title))}</title>',
                f'<desc id="{name}-desc">{escape(plain(description))}</desc>',
                f"<defs>{''.join(self._defs)}</defs>",
                f'<rect width="{_number(self.wide)}" height="{_number(high)}" fill="#fff"/>',
                *self._shapes,
                *self._words,
                "</svg>\n",
            )
        )

    def _box(self, place: Place, words: str, size: float, *, bold: bool) -> Box:
        wide = self.width(words, size, bold=bold)
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[place.anchor]
        left = place.x - share * wide
        top, bottom = place.y - height_above(size), place.y + height_below(size)
        return Box(left, top, left + wide, bottom)

    def _is_free(self, box: Box) -> bool:
        taken = (*self._kept, *(one.box for one in self.written))
        return not any(box.meets(other) for other in taken)


def _attributes(given: dict[str, str | float]) -> str:
    return "".join(
        f" {name.rstrip('_').replace('_', '-')}="
        f"{quoteattr(value if isinstance(value, str) else _number(value))}"
        for name, value in given.items()
    )


def _number(value: float) -> str:
    """Write a length to a hundredth, without zeros at its end."""
    return f"{value:.2f}".rstrip("0").rstrip(".")
