"""What can go wrong with a label, and what to do about it."""

from rindline.errors import InvalidInputError, RindlineError

__all__ = ["LabelError", "PrintError"]


class LabelError(InvalidInputError):
    """The label cannot be made: facts that do not fit, or a size too small for what it must say."""


class PrintError(RindlineError):
    """The system's print service did not take the label; nothing was printed."""
