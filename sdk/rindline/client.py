"""The client for ordinary (blocking) code."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import partial
from types import TracebackType
from typing import Self, TypeVar, Unpack
from uuid import UUID

from rindline import _operations as operations
from rindline._air import AirCalls
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
from rindline._stations import StationCalls
from rindline._telling import Telling
from rindline._wire import Call, Opened, Response, Transport
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

__all__ = ["Client"]

T = TypeVar("T")


class Client(StationCalls, AirCalls, Telling[Told, Told]):
    """Asks and tells a Rindline server; may be shared by threads. Close it, or use ``with``.

    ``server`` is its address, ``key`` what the server's manager gave you. ``transport`` stands in
    for HTTP (see :mod:`rindline.testing`), ``clock`` for the machine's.

    Every method raises :class:`rindline.ProblemError` if the server refuses,
    :class:`rindline.TransportError` or :class:`rindline.DeadlineError` if no answer comes in
    spite of the retries, and :class:`rindline.InvalidInputError` for what cannot be right.
    """

    def __init__(
        self,
        server: str = DEFAULT_SERVER,
        key: str | None = None,
        *,
        retries: RetryPolicy | None = None,
        transport: Transport | None = None,
        clock: Clock | None = None,
    ) -> None:
        self._clock = clock or RealClock()
        self._policy = retries or RetryPolicy()
        self._sender = Sender(key)
        if transport is None:
            # Only here, so that `import rindline` does not wait for httpx.
            from rindline.transport import HttpTransport  # noqa: PLC0415

            transport = HttpTransport(server, clock=self._clock)
        self._transport = transport

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
        """Close the connections."""
        self._transport.close()

    # --- telling (a method for each kind of event is in Telling) ------------------------------

    def tell(self, event: Event) -> Told:
        """Tell one event; raises :class:`rindline.RefusedError` if it is refused."""
        return self._ask(operations.tell(event))

    def tell_many(
        self,
        events: Iterable[Event],
        *,
        all_or_nothing: bool = False,
        progress: Callable[[int], object] | None = None,
    ) -> list[Outcome]:
        """Tell any number of events, 1,000 a batch; gives an outcome for each, in their order.

        A refused event raises nothing: look for ``Refused`` among the outcomes. ``progress`` is
        called after each batch with the number of events told so far. ``all_or_nothing`` records
        none of the events if any is refused; they must then fit one batch. If no answer comes,
        tell the same events again: each is recorded once.
        """
        outcomes: list[Outcome] = []
        for batch in operations.in_batches(events, all_or_nothing=all_or_nothing):
            try:
                answer = self._ask(operations.tell_batch(batch, all_or_nothing=all_or_nothing))
            except RindlineError as error:
                error.add_note(told_note(len(outcomes)))
                raise
            outcomes += answer.outcomes
            if progress is not None:
                progress(len(outcomes))
        return outcomes

    def try_events(self, events: Iterable[Event]) -> list[Outcome]:
        """Ask what telling up to 1,000 events would answer; nothing is recorded."""
        return self._ask(operations.try_events(events)).outcomes

    # --- questions ----------------------------------------------------------------------------

    def feed(
        self, after: int = 0, *, follow: bool = False, every_s: float = 1.0
    ) -> Iterator[RecordedEvent]:
        """Give recorded events in ledger order, from the one after ``after`` (a ``seq``) on.

        Ends with the newest, unless ``follow``: then it waits for more, asking every ``every_s``.
        """
        while True:
            page = self.feed_page(after, limit=PAGE_ENTRIES)
            yield from page.events
            after = page.next_after
            if not page.more:
                if not follow:
                    return
                self._clock.sleep(every_s)

    def feed_page(self, after: int = 0, *, limit: int = 100) -> FeedPage:
        """Give one page of the feed; ask on with ``after`` = its ``next_after``."""
        return self._ask(operations.feed(after, limit))

    def event(self, event_id: UUID | str) -> RecordedEvent:
        """Give one event as it stands in the ledger."""
        return self._ask(operations.event(event_id))

    def lots(self, **filters: Unpack[LotFilters]) -> Iterator[LotSummary]:
        """Give all lots that fit, page by page as you go."""
        return self._paged(
            lambda cursor: self.lots_page(limit=PAGE_ENTRIES, cursor=cursor, **filters),
            lambda page: page.lots,
        )

    def lots_page(
        self, *, limit: int = 100, cursor: str | None = None, **filters: Unpack[LotFilters]
    ) -> LotPage:
        """Give one page of the lots that fit; ask on with ``cursor`` = its ``next_cursor``."""
        return self._ask(operations.lots(filters, limit, cursor))

    def lot(self, lot: str, *, as_of: int | None = None) -> LotAnswer:
        """Give what is known of a lot, now or as the record stood at ``as_of`` (a ``seq``)."""
        return self._ask(operations.lot(lot, as_of))

    def origin(self, lot: str) -> OriginAnswer:
        """Give where a lot came from, with its share of each milk delivery."""
        return self._ask(operations.origin(lot))

    def trace(
        self, lot: str, direction: TraceDirection, *, as_of: int | None = None
    ) -> TraceAnswer:
        """Give a whole trace: lots, edges with grams, who holds what."""
        return self._ask(operations.trace(lot, direction, as_of))

    def trace_lines(
        self, lot: str, direction: TraceDirection, *, as_of: int | None = None
    ) -> Iterator[TraceLine]:
        """Give a trace line by line while it arrives: head, lots, edges, end.

        Raises :class:`rindline.CutShortError` if the end line is missing. Only opening it is
        retried; the total deadline ends there.
        """
        with self._opened(operations.trace_lines(lot, direction, as_of)) as opened:
            reader = LineReader()
            for chunk in opened.chunks():
                yield from reader.read(chunk)
            reader.finish()

    def discrepancies(self, **filters: Unpack[DiscrepancyFilters]) -> Iterator[Discrepancy]:
        """Give what does not fit together, page by page as you go."""
        return self._paged(
            lambda cursor: self.discrepancies_page(limit=PAGE_ENTRIES, cursor=cursor, **filters),
            lambda page: page.discrepancies,
        )

    def discrepancies_page(
        self,
        *,
        limit: int = 100,
        cursor: str | None = None,
        **filters: Unpack[DiscrepancyFilters],
    ) -> DiscrepancyPage:
        """Give one page of discrepancies."""
        return self._ask(operations.discrepancies(filters, limit, cursor))

    def register(self, register: RegisterName) -> Iterator[RegisteredEntry]:
        """Give the entries of a register, by code, page by page as you go."""
        return self._paged(
            lambda cursor: self.register_page(register, limit=PAGE_ENTRIES, cursor=cursor),
            lambda page: page.entries,
        )

    def register_page(
        self, register: RegisterName, *, limit: int = 100, cursor: str | None = None
    ) -> RegisterPage:
        """Give one page of a register."""
        return self._ask(operations.register(register, limit, cursor))

    def register_entry(self, register: RegisterName, code: str) -> RegisteredEntry:
        """Give one register entry in its newest version."""
        return self._ask(operations.register_entry(register, code))

    def start_drill(
        self,
        lots: Iterable[str],
        *,
        direction: DrillDirection = "both",
        purpose: DrillPurpose = "drill",
        reason: str | None = None,
        id: UUID | None = None,  # noqa: A002 - the field's name in the contract
    ) -> DrillAnswer:
        """Run a recall drill from some lots; it is kept, and answers again under its id."""
        request = DrillRequest(
            id=id or new_id(self._clock),
            lots=list(lots),
            direction=direction,
            purpose=purpose,
            reason=reason,
        )
        return self._ask(operations.start_drill(request))

    def drills(self) -> Iterator[DrillSummary]:
        """Give the drills, newest first, page by page as you go."""
        return self._paged(
            lambda cursor: self.drills_page(limit=PAGE_ENTRIES, cursor=cursor),
            lambda page: page.drills,
        )

    def drills_page(self, *, limit: int = 100, cursor: str | None = None) -> DrillPage:
        """Give one page of drills."""
        return self._ask(operations.drills(limit, cursor))

    def drill(self, drill_id: UUID | str) -> DrillAnswer:
        """Give the answer of a drill that was run."""
        return self._ask(operations.drill(drill_id))

    def whoami(self) -> Whoami:
        """Give what this client's key may do."""
        return self._ask(operations.whoami())

    def live(self) -> Health:
        """Tell whether the server lives; not retried."""
        return self._ask(operations.live())

    def ready(self) -> Health:
        """Tell whether the server can serve (``status``, ``detail``); not retried."""
        return self._ask(operations.ready())

    # --- the driver ---------------------------------------------------------------------------

    def _tell_fact(self, event: Fact) -> Told:
        return self.tell(event)

    def _tell_correction(self, event: Correct) -> Told:
        return self.tell(event)

    def _paged(
        self, ask: Callable[[str | None], Page], entries_of: Callable[[Page], list[T]]
    ) -> Iterator[T]:
        cursor: str | None = None
        while True:
            page = ask(cursor)
            yield from entries_of(page)
            cursor = page.next_cursor
            if cursor is None:
                return

    def _ask(self, call: Call[T]) -> T:
        request = self._sender.signed(call)
        return call.parse(self._drive(call, partial(self._transport.send, request)))

    @contextmanager
    def _opened(self, call: Call[None]) -> Iterator[Opened]:
        """Open a streaming answer, with the retries of any call, and close it again."""
        request = self._sender.signed(call)
        opened: list[Opened] = []

        def attempt(timeout_s: float) -> Response:
            candidate = self._transport.open(request, timeout_s)
            if 200 <= candidate.status < 300:
                opened.append(candidate)
                return Response(candidate.status, candidate.headers)
            try:
                # A refusal is short: read it, so that the retry rules see the problem.
                body = b"".join(candidate.chunks())
            finally:
                candidate.close()
            return Response(candidate.status, candidate.headers, body)

        call.parse(self._drive(call, attempt))
        try:
            yield opened[0]
        finally:
            opened[0].close()

    def _drive(self, call: Call[T], attempt: Callable[[float], Response]) -> Response:
        steps = attempts(self._policy, self._clock, retried=call.retried)
        step = next(steps)
        while True:
            outcome: AttemptOutcome | None = None
            if isinstance(step, Pause):
                self._clock.sleep(step.seconds)
            else:
                try:
                    outcome = attempt(step.timeout_s)
                except TransportError as error:
                    outcome = error
            try:
                step = steps.send(outcome)
            except StopIteration as end:
                response: Response = end.value
                return response
