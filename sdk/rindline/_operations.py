"""Every operation as a pure builder: arguments in, a :class:`Call` out. No I/O, no clock."""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Literal, TypeAlias, TypedDict
from uuid import UUID

import msgspec

from rindline._answers import parse_answer, parse_health, refuse_unless_ok
from rindline._calls import build_call, build_params, build_request, checked, checked_lot
from rindline._wire import Call, Request, Response
from rindline.errors import InvalidInputError
from rindline_schema import params
from rindline_schema.answers import (
    BatchAnswer,
    CodeBlock,
    CodeBlockPage,
    CodeBlockRequest,
    DiscrepancyPage,
    DrillAnswer,
    DrillPage,
    DrillRequest,
    DryRunAnswer,
    FeedPage,
    Health,
    LotAnswer,
    LotPage,
    LotState,
    OriginAnswer,
    OutboxBatch,
    RecordedEvent,
    RegisteredEntry,
    RegisterPage,
    StationPage,
    Told,
    TraceAnswer,
    TraceDirection,
    Whoami,
)
from rindline_schema.events import Event
from rindline_schema.operations import MAX_BATCH_EVENTS, MAX_BODY_BYTES
from rindline_schema.quantities import Code
from rindline_schema.registers import LotKind, RegisterName

__all__ = ["DiscrepancyFilters", "DrillDirection", "DrillPurpose", "LotFilters"]

DrillDirection: TypeAlias = Literal["back", "forward", "both"]
DrillPurpose: TypeAlias = Literal["drill", "live"]

_REGISTERS: tuple[str, ...] = ("site", "room", "sensor", "tool", "partner", "product")
# Room for the brackets and commas around the events of a batch.
_MAX_BATCH_BYTES = MAX_BODY_BYTES - 2


class LotFilters(TypedDict, total=False):
    """Which lots: all that are given must fit. ``prefix`` is the beginning of the code."""

    kind: LotKind | None
    product: str | None
    site: str | None
    state: LotState | None
    held: bool | None
    made_from: date | None
    made_to: date | None
    prefix: str | None


class DiscrepancyFilters(TypedDict, total=False):
    """Which discrepancies: the open ones (unless said otherwise), of one lot or of all."""

    show: Literal["open", "settled", "all"]
    lot: str | None


# --- telling ----------------------------------------------------------------------------------


def tell(event: Event) -> Call[Told]:
    """Tell one event."""
    return build_call("tell", Told, body=msgspec.json.encode(event))


def tell_batch(events: list[bytes], *, all_or_nothing: bool) -> Call[BatchAnswer]:
    """Tell some encoded events, at most as many as a batch may hold."""
    query = params.BatchParams(all_or_nothing=all_or_nothing)
    return build_call("tell_many", BatchAnswer, query=query, body=_array(events))


def try_events(events: Iterable[Event]) -> Call[DryRunAnswer]:
    """Ask what telling the events would answer; at most one batch, as later ones rest on it."""
    batches = list(in_batches(events, all_or_nothing=True))
    return build_call("try_events", DryRunAnswer, body=_array(batches[0] if batches else []))


def in_batches(events: Iterable[Event], *, all_or_nothing: bool) -> Iterator[list[bytes]]:
    """Encode events and part them into batches the server takes.

    With ``all_or_nothing`` they must fit one batch, or :class:`InvalidInputError` is raised
    before anything is sent.
    """
    if all_or_nothing:
        batches = list(in_batches(events, all_or_nothing=False))
        if len(batches) > 1:
            raise InvalidInputError(
                f"These events must go in one batch, which holds at most {MAX_BATCH_EVENTS} "
                f"events and {MAX_BODY_BYTES // 1024 // 1024} MiB: pass fewer."
            )
        yield from batches
        return
    batch: list[bytes] = []
    size = 0
    for event in events:
        line = msgspec.json.encode(event)
        if batch and (len(batch) == MAX_BATCH_EVENTS or size + len(line) + 1 > _MAX_BATCH_BYTES):
            yield batch
            batch, size = [], 0
        batch.append(line)
        size += len(line) + 1
    if batch:
        yield batch


def _array(events: list[bytes]) -> bytes:
    return b"[" + b",".join(events) + b"]"


# --- questions --------------------------------------------------------------------------------


def feed(after: int, limit: int) -> Call[FeedPage]:
    """Read a page of the feed."""
    return build_call(
        "feed", FeedPage, query=build_params(params.FeedParams, after=after, limit=limit)
    )


def event(event_id: UUID | str) -> Call[RecordedEvent]:
    """Read one recorded event."""
    return build_call("event", RecordedEvent, {"event_id": _uuid(event_id)})


def lots(filters: LotFilters, limit: int, cursor: str | None) -> Call[LotPage]:
    """Search lots, one page."""
    query = build_params(params.LotSearchParams, limit=limit, cursor=cursor, **filters)
    return build_call("lots", LotPage, query=query)


def lot(code: str, as_of: int | None) -> Call[LotAnswer]:
    """Read one lot."""
    query = build_params(params.AsOfParams, as_of=as_of)
    return build_call("lot", LotAnswer, {"lot": checked_lot(code)}, query=query)


def origin(code: str) -> Call[OriginAnswer]:
    """Read where a lot came from."""
    return build_call("origin", OriginAnswer, {"lot": checked_lot(code)})


def trace(code: str, direction: TraceDirection, as_of: int | None) -> Call[TraceAnswer]:
    """Read a whole trace."""
    request = _trace_request(code, direction, as_of, "json")
    return Call(request, lambda response: parse_answer(response, TraceAnswer))


def trace_lines(code: str, direction: TraceDirection, as_of: int | None) -> Call[None]:
    """Open a trace that streams; parsing only refuses an answer that is not a success."""
    return Call(_trace_request(code, direction, as_of, "ndjson"), refuse_unless_ok)


def discrepancies(
    filters: DiscrepancyFilters, limit: int, cursor: str | None
) -> Call[DiscrepancyPage]:
    """List discrepancies, one page."""
    query = build_params(params.DiscrepancyParams, limit=limit, cursor=cursor, **filters)
    return build_call("discrepancies", DiscrepancyPage, query=query)


def register(name: RegisterName, limit: int, cursor: str | None) -> Call[RegisterPage]:
    """List a register, one page."""
    query = build_params(params.RegisterParams, limit=limit, cursor=cursor)
    return build_call("register", RegisterPage, {"register": _register(name)}, query=query)


def register_entry(name: RegisterName, code: str) -> Call[RegisteredEntry]:
    """Read one register entry."""
    path = {"register": _register(name), "code": checked(code, Code, "code")}
    return build_call("register_entry", RegisteredEntry, path)


def start_drill(request: DrillRequest) -> Call[DrillAnswer]:
    """Run a drill."""
    for code in request.lots:
        checked_lot(code)
    body = msgspec.json.encode(checked(msgspec.to_builtins(request), DrillRequest, "drill"))
    return build_call("start_drill", DrillAnswer, body=body)


def drills(limit: int, cursor: str | None) -> Call[DrillPage]:
    """List drills, one page."""
    query = build_params(params.PageParams, limit=limit, cursor=cursor)
    return build_call("drills", DrillPage, query=query)


def drill(drill_id: UUID | str) -> Call[DrillAnswer]:
    """Read a drill."""
    return build_call("drill", DrillAnswer, {"drill_id": _uuid(drill_id)})


def tell_from_outbox(batch: OutboxBatch) -> Call[BatchAnswer]:
    """Tell a batch of an outbox."""
    return build_call("tell_from_outbox", BatchAnswer, body=msgspec.json.encode(batch))


def raw_call(name: str, body: bytes) -> Call[Response]:
    """Send an encoded body to an operation, once; the answer is read by the asker."""
    return Call(build_request(name, {}, None, body), lambda response: response, retried=False)


def stations(limit: int, cursor: str | None) -> Call[StationPage]:
    """List stations, one page."""
    query = build_params(params.PageParams, limit=limit, cursor=cursor)
    return build_call("stations", StationPage, query=query)


def reserve_codes(request: CodeBlockRequest) -> Call[CodeBlock]:
    """Reserve a block of lot codes."""
    block = checked(msgspec.to_builtins(request), CodeBlockRequest, "block")
    return build_call("reserve_codes", CodeBlock, body=msgspec.json.encode(block))


def code_blocks(limit: int, cursor: str | None) -> Call[CodeBlockPage]:
    """List blocks of lot codes, one page."""
    query = build_params(params.PageParams, limit=limit, cursor=cursor)
    return build_call("code_blocks", CodeBlockPage, query=query)


def whoami() -> Call[Whoami]:
    """Read what the key may do."""
    return build_call("whoami", Whoami)


def live() -> Call[Health]:
    """Ask whether the server lives; not retried, as the asker wants to know now."""
    return Call(build_call("live", Health).request, parse_health, retried=False)


def ready() -> Call[Health]:
    """Ask whether the server can serve; not retried, as the asker wants to know now."""
    return Call(build_call("ready", Health).request, parse_health, retried=False)


# --- what is checked here ---------------------------------------------------------------------


def _trace_request(
    code: str, direction: TraceDirection, as_of: int | None, form: Literal["json", "ndjson"]
) -> Request:
    if direction not in ("back", "forward"):
        raise InvalidInputError(f"direction is 'back' or 'forward', not {direction!r}.")
    query = build_params(params.TraceParams, as_of=as_of, format=form)
    request = build_request(
        "trace", {"lot": checked_lot(code), "direction": direction}, query, None
    )
    if form == "json":
        return request
    headers = {"accept": "application/x-ndjson, application/problem+json"}
    return Request(request.method, request.path, request.query, None, headers)


def _register(name: str) -> str:
    if name not in _REGISTERS:
        raise InvalidInputError(
            f"There is no register {name!r}; there are {', '.join(_REGISTERS)}."
        )
    return name


def _uuid(value: UUID | str) -> str:
    try:
        return str(value if isinstance(value, UUID) else UUID(value))
    except ValueError as error:
        raise InvalidInputError(f"{value!r} is not a UUID.") from error
