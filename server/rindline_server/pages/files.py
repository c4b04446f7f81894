"""Pictures as PNG and PDF: typst sets the SVG, with the fonts of the ``[labels]`` extra.

Only those fonts are used, so a picture looks the same wherever it is made.
"""

import threading
from collections.abc import Sequence
from functools import cache
from importlib import import_module
from typing import Any, Literal, TypeAlias

import msgspec

from rindline_server.pages.sheet import FONTS

__all__ = ["PictureError", "PictureFormat", "picture_file"]

PictureFormat: TypeAlias = Literal["png", "pdf"]

_PRINT_FONTS = 'font-family="IBM Plex Sans" font-stretch="condensed"'
# Three pixels a unit: sharp on a phone and in print, about 1,100 pixels wide.
_PNG_PPI = 216.0
# A compiler does one piece of work at a time, and it refuses a second thread meanwhile.
_TURN = threading.Lock()
_PNG = b"""
#let picture = json(bytes(sys.inputs.data))
#set page(width: 360pt, height: auto, margin: 0pt, fill: white)
#image(bytes(picture.pages.first()), format: "svg", width: 100%, alt: picture.title)
"""
_PDF = b"""
#let picture = json(bytes(sys.inputs.data))
#set document(title: picture.title)
#set page(paper: "a4", margin: 15mm)
#for page in picture.pages {
  layout(size => {
    let drawn = image(bytes(page), format: "svg", width: 100%, alt: picture.title)
    if measure(drawn, width: size.width).height > size.height {
      drawn = image(bytes(page), format: "svg", height: size.height, alt: picture.title)
    }
    align(center, drawn)
  })
  if page != picture.pages.last() { pagebreak() }
}
"""


class PictureError(Exception):
    """The picture can't be made as a file; the message says what to install."""


def picture_file(svgs: str | Sequence[str], fmt: PictureFormat, title: str = "") -> bytes:
    """Make a PNG of one picture, or a PDF of A4 pages with a picture each.

    The pictures should be drawn with the look ``CARD`` for PNG and ``PAPER`` for PDF. Raises
    :class:`PictureError` if the ``[labels]`` extra is not installed.
    """
    pages = [svgs] if isinstance(svgs, str) else list(svgs)
    data = {"title": title, "pages": [page.replace(FONTS, _PRINT_FONTS, 1) for page in pages]}
    inputs = {"data": msgspec.json.encode(data).decode()}
    source = _PNG if fmt == "png" else _PDF
    try:
        with _TURN:
            made: bytes = _compiler().compile(
                source, format=fmt, ppi=_PNG_PPI, sys_inputs=inputs, timestamp=0
            )
    except ModuleNotFoundError as error:
        raise PictureError(
            f"PNG and PDF need {error.name}, which is not installed on the server: "
            "pip install 'rindline[labels]', or ask for SVG."
        ) from error
    return made


@cache
def _compiler() -> Any:
    # Kept, because finding the fonts takes longer than setting a page.
    import typst  # noqa: PLC0415 - only whoever makes files has it

    fonts = import_module("fontpkg_ibm_plex_sans_condensed")
    return typst.Compiler(font_paths=[str(fonts.ROOT / "files")], ignore_system_fonts=True)
