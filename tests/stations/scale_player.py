"""A scale that is played: what lies on it over time, how it writes lines, what harms them."""

import contextlib
import os
import pty
import random
import socket
import threading
import time
import tty
from collections.abc import Iterator
from dataclasses import dataclass, field

from rindline.stations import LineFormat, Port, Scale, ScaleGoneError, SerialPort, WeighRule
from rindline.testing import FakeClock

FORMAT_TEXT = r"(?P<stable>ST|US),NT,(?P<value>[+-]\d{3}\.\d{3})(?P<unit>kg)"
FORMAT = LineFormat(FORMAT_TEXT)
QUICK = WeighRule(readings=3, seconds=0.0, tolerance_g=0, silence_s=12.0)


def line(mass_g: int, *, stable: bool = True) -> bytes:
    """Gives a line as the played scale writes it."""
    sign = "-" if mass_g < 0 else "+"
    whole, rest = divmod(abs(mass_g), 1000)
    return f"{'ST' if stable else 'US'},NT,{sign}{whole:03d}.{rest:03d}kg\r\n".encode()


def weighing(mass_g: int, dice: random.Random) -> list[bytes]:
    """Gives the lines of one piece put on and taken off: swinging, standing, swinging, empty."""
    up = [line(dice.randrange(mass_g * 2), stable=False) for _ in range(dice.randrange(2, 5))]
    down = [line(dice.randrange(mass_g), stable=False) for _ in range(2)]
    return [*up, *[line(mass_g)] * 12, *down, *[line(0)] * 6]


def harmed(lines: list[bytes], dice: random.Random, share: float) -> list[bytes]:
    """Gives the lines with a share of them cut, torn, garbled or preceded by noise."""
    played = []
    for text in lines:
        if dice.random() >= share:
            played.append(text)
            continue
        match dice.randrange(5):
            case 0:
                played.append(text[: dice.randrange(1, len(text) - 2)] + b"\r\n")
            case 1:
                played.append(text[dice.randrange(1, len(text) - 2) :])
            case 2:
                place = dice.randrange(len(text) - 2)
                played.append(text[:place] + bytes([dice.randrange(256)]) + text[place + 1 :])
            case 3:
                played.append(dice.randbytes(dice.randrange(1, 60)) + text)
            case _:
                played.append(dice.randbytes(300))
    return played


def sliced(data: bytes, dice: random.Random) -> Iterator[bytes]:
    """Gives the bytes in pieces of 1 to 40."""
    while data:
        size = dice.randrange(1, 41)
        yield data[:size]
        data = data[size:]


@dataclass
class PlayedPort:
    """A port in memory: gives one piece a read, nothing where a piece is empty; loses the way
    where it is None. When nothing comes, the given clock moves on.
    """

    pieces: list[bytes | None]
    clock: FakeClock = field(default_factory=FakeClock)
    closed: int = 0

    def read(self, wait_s: float) -> bytes:
        if not self.pieces:
            self.clock.sleep(wait_s)
            return b""
        piece = self.pieces.pop(0)
        if piece is None:
            raise ScaleGoneError("The played scale was pulled out.")
        return piece

    def close(self) -> None:
        self.closed += 1


@dataclass
class CountedPort:
    """A serial port that counts what was read from it."""

    port: SerialPort
    count: int = 0

    def read(self, wait_s: float) -> bytes:
        data = self.port.read(wait_s)
        self.count += len(data)
        return data

    def close(self) -> None:
        self.port.close()


@dataclass
class Terminal:
    """A pseudo-terminal pair: the test writes to ``master``, the station opens ``path``."""

    master: int
    path: str
    reader: "CountedPort | None" = None
    stopped: threading.Event = field(default_factory=threading.Event)

    def play(self, data: bytes) -> None:
        os.write(self.master, data)

    def port(self) -> "CountedPort":
        """Opens the station's end."""
        self.reader = CountedPort(SerialPort(self.path))
        return self.reader


@contextlib.contextmanager
def terminal() -> Iterator[Terminal]:
    """Gives a pseudo-terminal pair without echo or line editing; both ends closed afterwards."""
    master, slave = pty.openpty()
    tty.setraw(slave)
    pair = Terminal(master, os.ttyname(slave))
    try:
        yield pair
    finally:
        pair.stopped.set()
        for end in (master, slave):
            with contextlib.suppress(OSError):
                os.close(end)


@contextlib.contextmanager
def playing(pair: Terminal, pieces: list[bytes]) -> Iterator[None]:
    """Writes the pieces from a thread of its own, each when the one before was read: a scale is
    slower than its reader.
    """

    def play() -> None:
        assert pair.reader is not None
        played = 0
        for piece in pieces:
            pair.play(piece)
            played += len(piece)
            while pair.reader.count < played:
                if pair.stopped.is_set():
                    return
                time.sleep(0.0002)

    thread = threading.Thread(target=play)
    thread.start()
    try:
        yield
    finally:
        pair.stopped.set()
        thread.join()


@contextlib.contextmanager
def serving(connections: list[bytes]) -> Iterator[int]:
    """Gives the TCP port of a box that plays one script a connection, then hangs up."""
    listener = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        for script in connections:
            try:
                connection, _ = listener.accept()
            except OSError:
                return
            with connection:
                connection.sendall(script)
        listener.close()

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        with contextlib.suppress(OSError):
            listener.shutdown(socket.SHUT_RDWR)
        listener.close()
        thread.join()


def opener(*ports: Port) -> "Opener":
    """Gives what opens these ports, one after the other; then none."""
    return Opener(list(ports))


@dataclass
class Opener:
    """Opens played ports in turn, and counts."""

    ports: list[Port]
    opened: int = 0

    def __call__(self) -> Port:
        self.opened += 1
        if not self.ports:
            raise ScaleGoneError("The played scale is not there.")
        return self.ports.pop(0)


def played(*pieces: bytes | None, rule: WeighRule = QUICK) -> tuple[Scale, PlayedPort]:
    """Gives a scale on a played port, in the played format, and that port."""
    port = PlayedPort(list(pieces))
    return Scale(opener(port), FORMAT, rule, clock=port.clock), port
