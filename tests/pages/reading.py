"""Reading a picture back: its texts and shapes, as any reader of SVG finds them."""

import re
from dataclasses import dataclass
from itertools import combinations
from xml.etree import ElementTree as ET

from rindline_server.pages.letters import height_above, height_below, width

__all__ = ["Drawn", "Words", "overlapping", "read"]

_SVG = "{http://www.w3.org/2000/svg}"
_REFERENCE = re.compile(r"url\(#([^)]+)\)")


@dataclass(frozen=True)
class Words:
    """A text and the box it takes in a wide face."""

    words: str
    left: float
    top: float
    right: float
    bottom: float
    size: float


@dataclass(frozen=True)
class Drawn:
    """A picture as read: its texts, how many shapes of each class, and what names it."""

    wide: float
    high: float
    texts: list[Words]
    counts: dict[str, int]
    title: str
    description: str
    root: ET.Element

    @property
    def said(self) -> str:
        """All texts in a row, with plain spaces."""
        return " ".join(one.words for one in self.texts).replace("\u00a0", " ")


def read(svg: str, letters: float = 1.0) -> Drawn:
    """Read a picture; raises if it is not well formed, or refers to what is not there."""
    root = ET.fromstring(svg)
    assert root.tag == f"{_SVG}svg"
    tags = {element.tag.removeprefix(_SVG) for element in root.iter()}
    assert tags <= {
        *("svg", "title", "desc", "defs", "pattern", "rect", "path", "circle", "text"),
    }, tags
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    named = {
        name
        for element in root.iter()
        for value in element.attrib.values()
        for name in _REFERENCE.findall(value)
    }
    named |= {root.attrib["aria-labelledby"], root.attrib["aria-describedby"]}
    assert named <= set(ids), named - set(ids)
    counts: dict[str, int] = {}
    for element in root.iter():
        kind = element.get("class")
        if kind:
            counts[kind] = counts.get(kind, 0) + 1
    _, _, wide, high = map(float, root.attrib["viewBox"].split())
    title, description = root.find(f"{_SVG}title"), root.find(f"{_SVG}desc")
    assert title is not None
    assert description is not None
    return Drawn(
        wide,
        high,
        [_words(element, letters) for element in root.iter(f"{_SVG}text")],
        counts,
        title.text or "",
        description.text or "",
        root,
    )


def overlapping(texts: list[Words]) -> list[tuple[str, str]]:
    """Give the pairs of texts that lie over one another, or over the hundredth they round to."""
    return [
        (one.words, other.words)
        for one, other in combinations(texts, 2)
        if one.left < other.right - 0.02
        and other.left < one.right - 0.02
        and one.top < other.bottom - 0.02
        and other.top < one.bottom - 0.02
    ]


def _words(element: ET.Element, letters: float) -> Words:
    words = element.text or ""
    size = float(element.get("font-size", "11"))
    wide = width(words, size * letters, bold=element.get("font-weight") == "bold")
    x, y = float(element.attrib["x"]), float(element.attrib["y"])
    left = x - wide * {"start": 0, "middle": 0.5, "end": 1}[element.get("text-anchor", "start")]
    return Words(words, left, y - height_above(size), left + wide, y + height_below(size), size)
