"""A scale: a port, its line format and the rule by which a mass is taken, tied together."""

from collections.abc import Callable
from types import TracebackType
from typing import Self

from rindline._clock import Clock, RealClock
from rindline.stations._errors import DoubtfulMassError, ScaleGoneError, ScaleTimeoutError
from rindline.stations._expected import Expected
from rindline.stations._ports import OpenPort, Port
from rindline.stations._readings import LineFormat, LineSplitter
from rindline.stations._stability import StabilityDetector, Standing, WeighRule

__all__ = ["Scale"]

_FIRST_WAIT_S = 0.25
_LONGEST_WAIT_S = 5.0
# So much of what came unwatched is read before a new mass; the rest is waited out.
_MOST_CAUGHT_UP = 256


class Scale:
    """Reads a scale; opens its port, and opens it again whenever it is lost.

    ``open_port`` comes from :func:`open_port_at`. For one thread. Also a context manager.
    """

    def __init__(
        self,
        open_port: OpenPort,
        line_format: LineFormat,
        rule: WeighRule | None = None,
        *,
        clock: Clock | None = None,
    ) -> None:
        self._open_port = open_port
        self._format = line_format
        self._clock = clock or RealClock()
        self._lines = LineSplitter()
        self._detector = StabilityDetector(rule or WeighRule())
        self._port: Port | None = None
        self._why_not = ""
        self._wait_s = _FIRST_WAIT_S
        self._again_at_s = self._clock.monotonic_s()
        self.unreadable = 0
        """Lines so far that were no mass in the given format."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the port."""
        if self._port is not None:
            self._port.close()
            self._port = None

    def watch(self, wait_s: float = 0.2) -> Standing:
        """Read what comes, waiting at most ``wait_s`` for it; gives how the scale stands.

        A lost scale raises nothing: it stands as ``disconnected`` until it is back.
        """
        port = self._port or self._reopened(wait_s)
        if port is None:
            return Standing("disconnected", detail=self._why_not)
        try:
            data = port.read(wait_s)
        except ScaleGoneError as error:
            self._lose(error)
            return Standing("disconnected", detail=self._why_not)
        self._feed(data)
        return self._detector.check_silence(self._clock.monotonic_s())

    def catch_up(self) -> None:
        """Let go of what came while nobody watched: only what stands from now on counts.

        It is still seen if the scale was emptied in the meantime.
        """
        for _ in range(_MOST_CAUGHT_UP):
            if self._port is None:
                break
            try:
                data = self._port.read(0)
            except ScaleGoneError as error:
                self._lose(error)
                break
            if not data:
                break
            self._feed(data)
        self._detector.interrupt()

    def taken(self) -> int:
        """Give the mass that stands, in grams, once; raises ValueError if none does.

        Until the scale was emptied it gives no other.
        """
        return self._detector.take()

    def take(
        self,
        *,
        expected: Expected | None = None,
        confirm: Callable[[str], bool] | None = None,
        timeout_s: float | None = None,
        show: Callable[[Standing], object] | None = None,
    ) -> int:
        """Wait until a mass stands and give it, in grams.

        Only what stands after the call counts, and only after the last piece was taken off. A
        mass that is not ``expected`` is put to ``confirm`` with a sentence that says why; if that
        answers False, the piece must come off and the wait goes on. ``show`` is called with each
        standing, a few times a second.

        Raises :class:`DoubtfulMassError` if nobody can confirm, :class:`ScaleTimeoutError` after
        ``timeout_s``.
        """
        self.catch_up()
        began_s = self._clock.monotonic_s()
        while True:
            standing = self.watch()
            if show is not None:
                show(standing)
            if standing.state == "stable":
                doubt = expected.doubt(standing.mass_g or 0) if expected else None
                if doubt is None:
                    return self.taken()
                if confirm is None:
                    raise DoubtfulMassError(doubt, standing.mass_g or 0)
                mass_g = self.taken()
                if confirm(doubt):
                    return mass_g
                self.catch_up()
            if timeout_s is not None and self._clock.monotonic_s() - began_s >= timeout_s:
                raise ScaleTimeoutError(
                    f"No mass stood still in {timeout_s:g} s; the scale is {standing.state}. "
                    + standing.detail
                )

    def _feed(self, data: bytes) -> None:
        now_s = self._clock.monotonic_s()
        for line in self._lines.feed(data):
            reading = None if line is None else self._format.read(line)
            if reading is None:
                self.unreadable += 1
                self._detector.interrupt()
            else:
                self._detector.feed(reading, now_s)

    def _reopened(self, wait_s: float) -> Port | None:
        left_s = self._again_at_s - self._clock.monotonic_s()
        if left_s > 0:
            self._clock.sleep(min(wait_s, left_s))
            return None
        try:
            self._port = self._open_port()
        except ScaleGoneError as error:
            self._lose(error)
            self._clock.sleep(min(wait_s, self._wait_s))
            return None
        self._wait_s = _FIRST_WAIT_S
        return self._port

    def _lose(self, error: ScaleGoneError) -> None:
        self.close()
        self._lines.restart()
        self._detector.interrupt()
        self._why_not = str(error)
        self._again_at_s = self._clock.monotonic_s() + self._wait_s
        self._wait_s = min(self._wait_s * 2, _LONGEST_WAIT_S)
