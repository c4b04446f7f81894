"""What both clients say about readings, rooms and air."""

from abc import ABC, abstractmethod
from collections.abc import AsyncIterator, Callable, Iterable, Iterator
from typing import Literal, TypeVar, Unpack

from rindline import _air_operations as operations
from rindline._air_operations import ClimateSpan, ComparisonChoice, PictureFormat, Series
from rindline._core import PAGE_ENTRIES, told_note
from rindline._wire import Call
from rindline.errors import RindlineError
from rindline_schema.answers import (
    ClimateAnswer,
    ComparisonAnswer,
    ConditionsAnswer,
    Reading,
    ReadingsAnswer,
    RefusedReading,
    SensorPage,
    SensorState,
    WeightLossAnswer,
)

__all__ = ["AirCalls", "AsyncAirCalls"]

T = TypeVar("T")


class AirCalls(ABC):
    """For :class:`rindline.Client`."""

    @abstractmethod
    def _ask(self, call: Call[T]) -> T: ...

    def tell_readings(
        self,
        readings: Iterable[Reading],
        *,
        progress: Callable[[int], object] | None = None,
    ) -> ReadingsAnswer:
        """Tell any number of readings, 10,000 a batch; gives one answer for all.

        A refused reading raises nothing: look at ``refused``, whose indexes count through all of
        ``readings`` from 0. ``progress`` is called after each batch with the number of readings
        told so far. If no answer comes, tell the same readings again: sensor and time are a
        reading's identity, so each is recorded once.
        """
        joined = _Joined()
        for batch in operations.readings_in_batches(readings):
            try:
                answer = self._ask(operations.tell_readings(batch))
            except RindlineError as error:
                error.add_note(told_note(joined.told, "readings"))
                raise
            joined.add(answer, len(batch))
            if progress is not None:
                progress(joined.told)
        return joined.answer()

    def sensors(self) -> Iterator[SensorState]:
        """Give the sensors: where each hangs, what it showed last; page by page as you go."""
        cursor: str | None = None
        while True:
            page = self.sensors_page(limit=PAGE_ENTRIES, cursor=cursor)
            yield from page.sensors
            cursor = page.next_cursor
            if cursor is None:
                return

    def sensors_page(self, *, limit: int = 100, cursor: str | None = None) -> SensorPage:
        """Give one page of the sensors."""
        return self._ask(operations.sensors(limit, cursor))

    def climate(
        self, room: str, *, series: Series = "none", **span: Unpack[ClimateSpan]
    ) -> ClimateAnswer:
        """Give the air of a room over a time of at most 400 days: figures, limits, gaps, doubts.

        ``from_at`` is 28 days before ``until_at``, and that is now, unless said. ``series`` adds
        the air by hours or days; ``base_c`` is the base of the degree-hours.
        """
        return self._ask(operations.climate(room, series, span))

    def climate_picture(self, room: str, fmt: PictureFormat, **span: Unpack[ClimateSpan]) -> bytes:
        """Give the air of a room as a picture: the bytes of an ``svg``, ``png`` or ``pdf``."""
        return self._ask(operations.climate_picture(room, fmt, span))

    def conditions(
        self, lot: str, *, series: Series = "none", base_c: float | None = None
    ) -> ConditionsAnswer:
        """Give the conditions a lot lived in, from hooping on: stays, air, handlings, ages.

        ``series`` adds the air by hours or days; ``base_c`` is the base of the degree-hours.
        """
        return self._ask(operations.conditions(lot, series, base_c))

    def conditions_picture(
        self, lot: str, fmt: PictureFormat, *, base_c: float | None = None
    ) -> bytes:
        """Give the conditions of a lot as a picture, as :meth:`climate_picture` does."""
        return self._ask(operations.conditions_picture(lot, fmt, base_c))

    def weight_loss(self, lot: str) -> WeightLossAnswer:
        """Give how a wheel, or each wheel of a make, lost weight, beside wheels of the past."""
        return self._ask(operations.weight_loss(lot))

    def comparison(
        self,
        *,
        by: Literal["make", "room", "shelf"] = "make",
        **choice: Unpack[ComparisonChoice],
    ) -> ComparisonAnswer:
        """Give makes, rooms or shelves side by side, and what sets well judged wheels apart.

        ``well`` and ``badly`` name grades; without them the mean of the scores decides.
        """
        return self._ask(operations.comparison(by, choice))


class AsyncAirCalls(ABC):
    """For :class:`rindline.AsyncClient`; each as in :class:`AirCalls`."""

    @abstractmethod
    async def _ask(self, call: Call[T]) -> T: ...

    async def tell_readings(
        self,
        readings: Iterable[Reading],
        *,
        progress: Callable[[int], object] | None = None,
    ) -> ReadingsAnswer:
        """As :meth:`rindline.Client.tell_readings`."""
        joined = _Joined()
        for batch in operations.readings_in_batches(readings):
            try:
                answer = await self._ask(operations.tell_readings(batch))
            except RindlineError as error:
                error.add_note(told_note(joined.told, "readings"))
                raise
            joined.add(answer, len(batch))
            if progress is not None:
                progress(joined.told)
        return joined.answer()

    async def sensors(self) -> AsyncIterator[SensorState]:
        """As :meth:`rindline.Client.sensors`."""
        cursor: str | None = None
        while True:
            page = await self.sensors_page(limit=PAGE_ENTRIES, cursor=cursor)
            for sensor in page.sensors:
                yield sensor
            cursor = page.next_cursor
            if cursor is None:
                return

    async def sensors_page(self, *, limit: int = 100, cursor: str | None = None) -> SensorPage:
        """As :meth:`rindline.Client.sensors_page`."""
        return await self._ask(operations.sensors(limit, cursor))

    async def climate(
        self, room: str, *, series: Series = "none", **span: Unpack[ClimateSpan]
    ) -> ClimateAnswer:
        """As :meth:`rindline.Client.climate`."""
        return await self._ask(operations.climate(room, series, span))

    async def climate_picture(
        self, room: str, fmt: PictureFormat, **span: Unpack[ClimateSpan]
    ) -> bytes:
        """As :meth:`rindline.Client.climate_picture`."""
        return await self._ask(operations.climate_picture(room, fmt, span))

    async def conditions(
        self, lot: str, *, series: Series = "none", base_c: float | None = None
    ) -> ConditionsAnswer:
        """As :meth:`rindline.Client.conditions`."""
        return await self._ask(operations.conditions(lot, series, base_c))

    async def conditions_picture(
        self, lot: str, fmt: PictureFormat, *, base_c: float | None = None
    ) -> bytes:
        """As :meth:`rindline.Client.conditions_picture`."""
        return await self._ask(operations.conditions_picture(lot, fmt, base_c))

    async def weight_loss(self, lot: str) -> WeightLossAnswer:
        """As :meth:`rindline.Client.weight_loss`."""
        return await self._ask(operations.weight_loss(lot))

    async def comparison(
        self,
        *,
        by: Literal["make", "room", "shelf"] = "make",
        **choice: Unpack[ComparisonChoice],
    ) -> ComparisonAnswer:
        """As :meth:`rindline.Client.comparison`."""
        return await self._ask(operations.comparison(by, choice))


class _Joined:
    """The answers to several batches as one; indexes count through all readings."""

    def __init__(self) -> None:
        self.told = 0
        self._answers: list[tuple[int, ReadingsAnswer]] = []

    def add(self, answer: ReadingsAnswer, count: int) -> None:
        self._answers.append((self.told, answer))
        self.told += count

    def answer(self) -> ReadingsAnswer:
        return ReadingsAnswer(
            recorded=sum(answer.recorded for _, answer in self._answers),
            repeated=sum(answer.repeated for _, answer in self._answers),
            refused=[
                RefusedReading(index=before + one.index, problem=one.problem)
                for before, answer in self._answers
                for one in answer.refused
            ],
            doubts=[doubt for _, answer in self._answers for doubt in answer.doubts],
        )
