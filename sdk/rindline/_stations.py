"""What both clients say about stations, outboxes and blocks of lot codes."""

from abc import ABC, abstractmethod
from collections.abc import AsyncIterator, Iterator
from datetime import date
from typing import TypeVar
from uuid import UUID

from rindline import _operations as operations
from rindline._clock import Clock
from rindline._core import PAGE_ENTRIES, Sender
from rindline._making import new_id
from rindline._retries import AttemptOutcome
from rindline._wire import AsyncTransport, Call, Response, Transport
from rindline.errors import TransportError
from rindline_schema.answers import (
    BatchAnswer,
    CodeBlock,
    CodeBlockPage,
    CodeBlockRequest,
    CodeBlockState,
    OutboxBatch,
    StationPage,
    StationState,
)
from rindline_schema.registers import LotKind

__all__ = ["AsyncStationCalls", "StationCalls"]

T = TypeVar("T")


class StationCalls(ABC):
    """For :class:`rindline.Client`."""

    _clock: Clock
    _sender: Sender
    _transport: Transport

    @abstractmethod
    def _ask(self, call: Call[T]) -> T: ...

    def _attempt(self, call: Call[Response], timeout_s: float) -> AttemptOutcome:
        """Send once, without retries: an outbox has a patience of its own."""
        try:
            return self._transport.send(self._sender.signed(call), timeout_s)
        except TransportError as error:
            return error

    def tell_from_outbox(self, batch: OutboxBatch) -> BatchAnswer:
        """Tell a batch of an outbox: :class:`rindline.Outbox` does it by itself."""
        return self._ask(operations.tell_from_outbox(batch))

    def stations(self) -> Iterator[StationState]:
        """Give the stations: when each last spoke, missing numbers; page by page as you go."""
        cursor: str | None = None
        while True:
            page = self.stations_page(limit=PAGE_ENTRIES, cursor=cursor)
            yield from page.stations
            cursor = page.next_cursor
            if cursor is None:
                return

    def stations_page(self, *, limit: int = 100, cursor: str | None = None) -> StationPage:
        """Give one page of the stations."""
        return self._ask(operations.stations(limit, cursor))

    def reserve_codes(
        self,
        kind: LotKind,
        *,
        day: date,
        count: int,
        site: str | None = None,
        id: UUID | None = None,  # noqa: A002 - the field's name in the contract
    ) -> CodeBlock:
        """Reserve ``count`` lot codes; an :class:`rindline.Outbox` does it by itself."""
        request = CodeBlockRequest(
            id=id or new_id(self._clock), day=day, kind=kind, count=count, site=site
        )
        return self._ask(operations.reserve_codes(request))

    def code_blocks(self) -> Iterator[CodeBlockState]:
        """Give the blocks of lot codes, newest first, page by page as you go."""
        cursor: str | None = None
        while True:
            page = self.code_blocks_page(limit=PAGE_ENTRIES, cursor=cursor)
            yield from page.blocks
            cursor = page.next_cursor
            if cursor is None:
                return

    def code_blocks_page(self, *, limit: int = 100, cursor: str | None = None) -> CodeBlockPage:
        """Give one page of the blocks of lot codes."""
        return self._ask(operations.code_blocks(limit, cursor))


class AsyncStationCalls(ABC):
    """For :class:`rindline.AsyncClient`; each as in :class:`StationCalls`."""

    _clock: Clock
    _sender: Sender
    _transport: AsyncTransport

    @abstractmethod
    async def _ask(self, call: Call[T]) -> T: ...

    async def _attempt(self, call: Call[Response], timeout_s: float) -> AttemptOutcome:
        """Send once, without retries: an outbox has a patience of its own."""
        try:
            return await self._transport.send_async(self._sender.signed(call), timeout_s)
        except TransportError as error:
            return error

    async def tell_from_outbox(self, batch: OutboxBatch) -> BatchAnswer:
        """As :meth:`rindline.Client.tell_from_outbox`."""
        return await self._ask(operations.tell_from_outbox(batch))

    async def stations(self) -> AsyncIterator[StationState]:
        """As :meth:`rindline.Client.stations`."""
        cursor: str | None = None
        while True:
            page = await self.stations_page(limit=PAGE_ENTRIES, cursor=cursor)
            for station in page.stations:
                yield station
            cursor = page.next_cursor
            if cursor is None:
                return

    async def stations_page(self, *, limit: int = 100, cursor: str | None = None) -> StationPage:
        """As :meth:`rindline.Client.stations_page`."""
        return await self._ask(operations.stations(limit, cursor))

    async def reserve_codes(
        self,
        kind: LotKind,
        *,
        day: date,
        count: int,
        site: str | None = None,
        id: UUID | None = None,  # noqa: A002 - the field's name in the contract
    ) -> CodeBlock:
        """As :meth:`rindline.Client.reserve_codes`."""
        request = CodeBlockRequest(
            id=id or new_id(self._clock), day=day, kind=kind, count=count, site=site
        )
        return await self._ask(operations.reserve_codes(request))

    async def code_blocks(self) -> AsyncIterator[CodeBlockState]:
        """As :meth:`rindline.Client.code_blocks`."""
        cursor: str | None = None
        while True:
            page = await self.code_blocks_page(limit=PAGE_ENTRIES, cursor=cursor)
            for block in page.blocks:
                yield block
            cursor = page.next_cursor
            if cursor is None:
                return

    async def code_blocks_page(
        self, *, limit: int = 100, cursor: str | None = None
    ) -> CodeBlockPage:
        """As :meth:`rindline.Client.code_blocks_page`."""
        return await self._ask(operations.code_blocks(limit, cursor))
