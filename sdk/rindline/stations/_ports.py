"""Where a scale's bytes come from: a serial port or a TCP connection. As thin as can be."""

import re
import socket
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module
from types import ModuleType
from typing import Protocol

from rindline.errors import InvalidInputError
from rindline.stations._errors import ScaleGoneError

__all__ = ["OpenPort", "Port", "SerialPort", "TcpPort", "open_port_at"]

_CHUNK = 4096
_TCP = re.compile(r"tcp://(\[[0-9A-Fa-f:]+\]|[^:/\[\]]+):([0-9]{1,5})")
_FRAME = re.compile(r"[5678][NEO][12]")


class Port(Protocol):
    """A way to a scale that is open."""

    def read(self, wait_s: float) -> bytes:
        """Give what has come, waiting so long for the first byte; nothing if none came.

        Raises :class:`ScaleGoneError` once the way is lost.
        """
        ...

    def close(self) -> None:
        """Close it; more than once does no harm."""
        ...


OpenPort = Callable[[], Port]
"""Opens a port; raises :class:`ScaleGoneError` if that fails now but may succeed later."""


class TcpPort:
    """A scale, or the box its serial line hangs on, that is reached by TCP."""

    def __init__(self, host: str, port: int, *, connect_s: float = 3.0) -> None:
        """Connect; raises :class:`ScaleGoneError` if that fails."""
        self._name = f"{host}:{port}"
        try:
            self._socket = socket.create_connection((host, port), connect_s)
        except OSError as error:
            raise ScaleGoneError(f"The scale at {self._name} does not answer: {error}.") from error
        # A box that lost its power says no goodbye: let the system ask after it.
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for name, value in (("TCP_KEEPIDLE", 5), ("TCP_KEEPINTVL", 2), ("TCP_KEEPCNT", 3)):
            if hasattr(socket, name):
                self._socket.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)

    def read(self, wait_s: float) -> bytes:
        """Give what has come; see :class:`Port`."""
        self._socket.settimeout(wait_s)
        try:
            data = self._socket.recv(_CHUNK)
        except (TimeoutError, BlockingIOError):
            return b""
        except OSError as error:
            raise ScaleGoneError(f"The scale at {self._name} was lost: {error}.") from error
        if not data:
            raise ScaleGoneError(f"The scale at {self._name} closed the connection.")
        return data

    def close(self) -> None:
        """Close the connection."""
        self._socket.close()


class SerialPort:
    """A scale on a serial port (needs pyserial: the extra ``stations``).

    ``frame`` is data bits, parity and stop bits, such as 8N1 or 7E1. The port is opened for this
    process alone: two readers would each get half of the lines.
    """

    def __init__(self, path: str, *, baud: int = 9600, frame: str = "8N1") -> None:
        """Open the port; raises :class:`ScaleGoneError` if that fails."""
        pyserial = _pyserial()
        if _FRAME.fullmatch(frame) is None:
            raise InvalidInputError(f"{frame!r} is not a serial frame such as 8N1 or 7E1.")
        self._name = path
        try:
            self._serial = pyserial.Serial(
                path,
                baud,
                bytesize=int(frame[0]),
                parity=frame[1],
                stopbits=int(frame[2]),
                exclusive=True,
            )
        except ValueError as error:
            raise InvalidInputError(f"The port {path} cannot be set so: {error}.") from error
        except OSError as error:
            raise ScaleGoneError(f"The scale at {path} cannot be opened: {error}.") from error

    def read(self, wait_s: float) -> bytes:
        """Give what has come; see :class:`Port`."""
        try:
            self._serial.timeout = wait_s
            return bytes(self._serial.read(1) + self._serial.read(self._serial.in_waiting))
        except (OSError, TypeError) as error:
            # pyserial trips over its own handle (TypeError) if the device goes while it reads.
            raise ScaleGoneError(f"The scale at {self._name} was lost: {error}.") from error

    def close(self) -> None:
        """Close the port."""
        # A device that was pulled out fails its own closing.
        with suppress(OSError):
            self._serial.close()


def _pyserial() -> ModuleType:
    try:
        # Only stations with a serial scale have it.
        return import_module("serial")
    except ImportError as error:
        raise InvalidInputError(
            "A serial scale needs pyserial: pip install 'rindline[stations]'."
        ) from error


def open_port_at(address: str, *, baud: int = 9600, frame: str = "8N1") -> OpenPort:
    """Give what opens ``tcp://host:port`` or else a serial port by its path.

    ``baud`` and ``frame`` are for the serial port. Raises :class:`rindline.InvalidInputError`
    for an address that cannot be one, or where pyserial is needed and missing.
    """
    if "://" not in address:
        _pyserial()
        return lambda: SerialPort(address, baud=baud, frame=frame)
    found = _TCP.fullmatch(address)
    if found is None or not 1 <= int(found[2]) <= 65535:
        raise InvalidInputError(f"{address!r} is not an address such as tcp://10.0.0.5:4001.")
    host, port = found[1].strip("[]"), int(found[2])
    return lambda: TcpPort(host, port)
