"""The client for asyncio: the same names as :class:`rindline.Client`, awaited."""

from collections.abc import AsyncIterator, Awaitable, Callable, Coroutine, Iterable
from contextlib import asynccontextmanager
from functools import partial
from types import TracebackType
from typing import Any, Self, TypeAlias, TypeVar, Unpack
from uuid import UUID

from rindline import _operations as operations
from rindline._air import AsyncAirCalls
from rindline._answers import LineReader
from rindline._clock import Clock, RealClock
from rindline._core import DEFAULT_SERVER, PAGE_ENTRIES, Page, Sender, told_note
from rindline._making import new_id
from rindline._operations import (
    DiscrepancyFilters,
    DrillDirection,
    DrillPurpose,
    LotFilters,
)
from rindline._retries import AttemptOutcome, Pause, RetryPolicy, attempts
from rindline._stations import AsyncStationCalls
from rindline._telling import Telling
from rindline._wire import AsyncOpened, AsyncTransport, Call, Response
from rindline.errors import RindlineError, TransportError
from rindline_schema.answers import (
    Discrepancy,
    DiscrepancyPage,
    DrillAnswer,
    DrillPage,
    DrillRequest,
    DrillSummary,
    FeedPage,
    Health,
    LotAnswer,
    LotPage,
    LotSummary,
    OriginAnswer,
    Outcome,
    RecordedEvent,
    RegisteredEntry,
    RegisterPage,
    Told,
    TraceAnswer,
    TraceDirection,
    TraceLine,
    Whoami,
)
from rindline_schema.events import Correct, Event, Fact
from rindline_schema.registers import RegisterName

__all__ = ["AsyncClient"]

T = TypeVar("T")
_Told: TypeAlias = Coroutine[Any, Any, Told]


class AsyncClient(AsyncStationCalls, AsyncAirCalls, Telling[_Told, _Told]):
    """Asks and tells a Rindline server from asyncio. Close it, or use ``async with``.

    Arguments, methods and errors are those of :class:`rindline.Client`; methods that give many
    things are iterated with ``async for``.
    """

    def __init__(
        self,
        server: str = DEFAULT_SERVER,
        key: str | None = None,
        *,
        retries: RetryPolicy | None = None,
        transport: AsyncTransport | None = None,
        clock: Clock | None = None,
    ) -> None:
        self._clock = clock or RealClock()
        self._policy = retries or RetryPolicy()
        self._sender = Sender(key)
        if transport is None:
            # Only here, so that `import rindline` does not wait for httpx.
            from rindline.transport import AsyncHttpTransport  # noqa: PLC0415

            transport = AsyncHttpTransport(server, clock=self._clock)
        self._transport = transport

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        await self.close()

    async def close(self) -> None:
        """Close the connections."""
        await self._transport.close_async()

    # --- telling (a method for each kind of event is in Telling) ------------------------------

    async def tell(self, event: Event) -> Told:
        """As :meth:`rindline.Client.tell`."""
        return await self._ask(operations.tell(event))

    async def tell_many(
        self,
        events: Iterable[Event],
        *,
        all_or_nothing: bool = False,
        progress: Callable[[int], object] | None = None,
    ) -> list[Outcome]:
        """As :meth:`rindline.Client.tell_many`."""
        outcomes: list[Outcome] = []
        for batch in operations.in_batches(events, all_or_nothing=all_or_nothing):
            try:
                answer = await self._ask(
                    operations.tell_batch(batch, all_or_nothing=all_or_nothing)
                )
            except RindlineError as error:
                error.add_note(told_note(len(outcomes)))
                raise
            outcomes += answer.outcomes
            if progress is not None:
                progress(len(outcomes))
        return outcomes

    async def try_events(self, events: Iterable[Event]) -> list[Outcome]:
        """As :meth:`rindline.Client.try_events`."""
        answer = await self._ask(operations.try_events(events))
        return answer.outcomes

    # --- questions ----------------------------------------------------------------------------

    async def feed(
        self, after: int = 0, *, follow: bool = False, every_s: float = 1.0
    ) -> AsyncIterator[RecordedEvent]:
        """As :meth:`rindline.Client.feed`."""
        while True:
            page = await self.feed_page(after, limit=PAGE_ENTRIES)
            for entry in page.events:
                yield entry
            after = page.next_after
            if not page.more:
                if not follow:
                    return
                await self._clock.sleep_async(every_s)

    async def feed_page(self, after: int = 0, *, limit: int = 100) -> FeedPage:
        """As :meth:`rindline.Client.feed_page`."""
        return await self._ask(operations.feed(after, limit))

    async def event(self, event_id: UUID | str) -> RecordedEvent:
        """As :meth:`rindline.Client.event`."""
        return await self._ask(operations.event(event_id))

    def lots(self, **filters: Unpack[LotFilters]) -> AsyncIterator[LotSummary]:
        """As :meth:`rindline.Client.lots`."""
        return self._paged(
            lambda cursor: self.lots_page(limit=PAGE_ENTRIES, cursor=cursor, **filters),
            lambda page: page.lots,
        )

    async def lots_page(
        self, *, limit: int = 100, cursor: str | None = None, **filters: Unpack[LotFilters]
    ) -> LotPage:
        """As :meth:`rindline.Client.lots_page`."""
        return await self._ask(operations.lots(filters, limit, cursor))

    async def lot(self, lot: str, *, as_of: int | None = None) -> LotAnswer:
        """As :meth:`rindline.Client.lot`."""
        return await self._ask(operations.lot(lot, as_of))

    async def origin(self, lot: str) -> OriginAnswer:
        """As :meth:`rindline.Client.origin`."""
        return await self._ask(operations.origin(lot))

    async def trace(
        self, lot: str, direction: TraceDirection, *, as_of: int | None = None
    ) -> TraceAnswer:
        """As :meth:`rindline.Client.trace`."""
        return await self._ask(operations.trace(lot, direction, as_of))

    async def trace_lines(
        self, lot: str, direction: TraceDirection, *, as_of: int | None = None
    ) -> AsyncIterator[TraceLine]:
        """As :meth:`rindline.Client.trace_lines`."""
        async with self._opened(operations.trace_lines(lot, direction, as_of)) as opened:
            reader = LineReader()
            async for chunk in opened.chunks():
                for line in reader.read(chunk):
                    yield line
            reader.finish()

    def discrepancies(self, **filters: Unpack[DiscrepancyFilters]) -> AsyncIterator[Discrepancy]:
        """As :meth:`rindline.Client.discrepancies`."""
        return self._paged(
            lambda cursor: self.discrepancies_page(limit=PAGE_ENTRIES, cursor=cursor, **filters),
            lambda page: page.discrepancies,
        )

    async def discrepancies_page(
        self,
        *,
        limit: int = 100,
        cursor: str | None = None,
        **filters: Unpack[DiscrepancyFilters],
    ) -> DiscrepancyPage:
        """As :meth:`rindline.Client.discrepancies_page`."""
        return await self._ask(operations.discrepancies(filters, limit, cursor))

    def register(self, register: RegisterName) -> AsyncIterator[RegisteredEntry]:
        """As :meth:`rindline.Client.register`."""
        return self._paged(
            lambda cursor: self.register_page(register, limit=PAGE_ENTRIES, cursor=cursor),
            lambda page: page.entries,
        )

    async def register_page(
        self, register: RegisterName, *, limit: int = 100, cursor: str | None = None
    ) -> RegisterPage:
        """As :meth:`rindline.Client.register_page`."""
        return await self._ask(operations.register(register, limit, cursor))

    async def register_entry(self, register: RegisterName, code: str) -> RegisteredEntry:
        """As :meth:`rindline.Client.register_entry`."""
        return await self._ask(operations.register_entry(register, code))

    async def start_drill(
        self,
        lots: Iterable[str],
        *,
        direction: DrillDirection = "both",
        purpose: DrillPurpose = "drill",
        reason: str | None = None,
        id: UUID | None = None,  # noqa: A002 - the field's name in the contract
    ) -> DrillAnswer:
        """As :meth:`rindline.Client.start_drill`."""
        request = DrillRequest(
            id=id or new_id(self._clock),
            lots=list(lots),
            direction=direction,
            purpose=purpose,
            reason=reason,
        )
        return await self._ask(operations.start_drill(request))

    def drills(self) -> AsyncIterator[DrillSummary]:
        """As :meth:`rindline.Client.drills`."""
        return self._paged(
            lambda cursor: self.drills_page(limit=PAGE_ENTRIES, cursor=cursor),
            lambda page: page.drills,
        )

    async def drills_page(self, *, limit: int = 100, cursor: str | None = None) -> DrillPage:
        """As :meth:`rindline.Client.drills_page`."""
        return await self._ask(operations.drills(limit, cursor))

    async def drill(self, drill_id: UUID | str) -> DrillAnswer:
        """As :meth:`rindline.Client.drill`."""
        return await self._ask(operations.drill(drill_id))

    async def whoami(self) -> Whoami:
        """As :meth:`rindline.Client.whoami`."""
        return await self._ask(operations.whoami())

    async def live(self) -> Health:
        """As :meth:`rindline.Client.live`."""
        return await self._ask(operations.live())

    async def ready(self) -> Health:
        """As :meth:`rindline.Client.ready`."""
        return await self._ask(operations.ready())

    # --- the driver ---------------------------------------------------------------------------

    def _tell_fact(self, event: Fact) -> _Told:
        return self.tell(event)

    def _tell_correction(self, event: Correct) -> _Told:
        return self.tell(event)

    async def _paged(
        self,
        ask: Callable[[str | None], Awaitable[Page]],
        entries_of: Callable[[Page], list[T]],
    ) -> AsyncIterator[T]:
        cursor: str | None = None
        while True:
            page = await ask(cursor)
            for entry in entries_of(page):
                yield entry
            cursor = page.next_cursor
            if cursor is None:
                return

    async def _ask(self, call: Call[T]) -> T:
        request = self._sender.signed(call)
        return call.parse(await self._drive(call, partial(self._transport.send_async, request)))

    @asynccontextmanager
    async def _opened(self, call: Call[None]) -> AsyncIterator[AsyncOpened]:
        """Open a streaming answer, with the retries of any call, and close it again."""
        request = self._sender.signed(call)
        opened: list[AsyncOpened] = []

        async def attempt(timeout_s: float) -> Response:
            candidate = await self._transport.open_async(request, timeout_s)
            if 200 <= candidate.status < 300:
                opened.append(candidate)
                return Response(candidate.status, candidate.headers)
            try:
                # A refusal is short: read it, so that the retry rules see the problem.
                body = b"".join([chunk async for chunk in candidate.chunks()])
            finally:
                await candidate.close()
            return Response(candidate.status, candidate.headers, body)

        call.parse(await self._drive(call, attempt))
        try:
            yield opened[0]
        finally:
            await opened[0].close()

    async def _drive(
        self, call: Call[T], attempt: Callable[[float], Awaitable[Response]]
    ) -> Response:
        steps = attempts(self._policy, self._clock, retried=call.retried)
        step = next(steps)
        while True:
            outcome: AttemptOutcome | None = None
            if isinstance(step, Pause):
                await self._clock.sleep_async(step.seconds)
            else:
                try:
                    outcome = await attempt(step.timeout_s)
                except TransportError as error:
                    outcome = error
            try:
                step = steps.send(outcome)
            except StopIteration as end:
                response: Response = end.value
                return response
