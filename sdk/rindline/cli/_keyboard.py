"""Lines from the keyboard, a scanner that plays one, or a pipe, without ever waiting for them."""

import os
import select
import sys
from collections import deque
from types import ModuleType, TracebackType
from typing import Any, Self

__all__ = ["Keyboard"]

_END_OF_INPUT = "\x04"
_ERASE = ("\x7f", "\b")
_CHUNK = 4096


class Keyboard:
    """Standard input line by line. A context manager: a terminal is left as it was found.

    On a terminal nothing is echoed, since the display is drawn anew all the time: it shows
    ``typed``. ``ended`` says that nothing more will come,
    ``is_terminal`` that a person sits there.
    """

    def __init__(self) -> None:
        self._fd = sys.stdin.fileno()
        self._lines: deque[str] = deque()
        self._before: list[Any] | None = None
        self._partial = b""
        self.typed = ""
        self.ended = False
        self.is_terminal = os.isatty(self._fd)

    def __enter__(self) -> Self:
        if self.is_terminal:
            termios = _termios()
            self._before = termios.tcgetattr(self._fd)
            changed = termios.tcgetattr(self._fd)
            changed[3] &= ~(termios.ICANON | termios.ECHO)
            termios.tcsetattr(self._fd, termios.TCSADRAIN, changed)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        if self._before is not None:
            termios = _termios()
            termios.tcsetattr(self._fd, termios.TCSADRAIN, self._before)

    def line(self) -> str | None:
        """Give the next whole line without its end, if one has come."""
        while not self.ended and select.select([self._fd], [], [], 0)[0]:
            try:
                data = os.read(self._fd, _CHUNK)
            except OSError:
                # The terminal is gone.
                data = b""
            if not data:
                self._end()
            else:
                self._take(data)
        return self._lines.popleft() if self._lines else None

    def _take(self, data: bytes) -> None:
        text, self._partial = _decoded(self._partial + data)
        for letter in text:
            if letter in "\r\n":
                self._lines.append(self.typed)
                self.typed = ""
            elif letter == _END_OF_INPUT:
                self._end()
            elif letter in _ERASE:
                self.typed = self.typed[:-1]
            elif letter.isprintable():
                self.typed += letter

    def _end(self) -> None:
        if self.typed:
            self._lines.append(self.typed)
            self.typed = ""
        self.ended = True


def _decoded(data: bytes) -> tuple[str, bytes]:
    """Give the text, and the bytes of a character that has not wholly come."""
    for kept in range(min(4, len(data) + 1)):
        cut = len(data) - kept
        try:
            return data[:cut].decode(), data[cut:]
        except UnicodeDecodeError:
            continue
    return data.decode(errors="ignore"), b""


def _termios() -> ModuleType:
    # Not on every system; where it is missing, nothing says that it is a terminal.
    import termios  # noqa: PLC0415

    return termios
