"""Where a picture or another file of an answer goes."""

from pathlib import Path
from typing import Literal, cast

from rindline.errors import InvalidInputError

__all__ = ["picture_format", "write_file"]


def picture_format(out: Path) -> Literal["svg", "png", "pdf"]:
    """Give the format that a file's name ends with."""
    suffix = out.suffix.lower().removeprefix(".")
    if suffix not in ("svg", "png", "pdf"):
        raise InvalidInputError(f"{out} should end in .svg, .png or .pdf.")
    return cast("Literal['svg', 'png', 'pdf']", suffix)


def write_file(out: Path, data: bytes) -> None:
    """Write a file, or say why it cannot be written."""
    try:
        out.write_bytes(data)
    except OSError as error:
        raise InvalidInputError(f"{out} cannot be written: {error}.") from error
