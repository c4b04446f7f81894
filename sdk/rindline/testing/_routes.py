"""Which operation a request is, and the fake's own answers to the questions it can answer."""

import re
from typing import Any, NamedTuple, TypeVar
from urllib.parse import unquote
from uuid import UUID

import msgspec

from rindline._wire import Request
from rindline.testing._readings import Readings
from rindline.testing._record import Record
from rindline.testing._stations import Stations
from rindline_schema.answers import (
    BatchAnswer,
    DiscrepancyPage,
    DrillPage,
    DryRunAnswer,
    FeedPage,
    Health,
    LotAnswer,
    LotPage,
    LotSummary,
    Outcome,
    Refused,
    RegisterPage,
    Told,
    Whoami,
)
from rindline_schema.operations import MAX_BATCH_EVENTS, OPERATIONS, Operation
from rindline_schema.params import BatchParams, FeedParams, LotSearchParams, RegisterParams
from rindline_schema.problems import Problem, make_problem

__all__ = ["Asked", "Refusal", "find_operation", "own_answer"]

T = TypeVar("T")

_PATTERNS = [
    (operation, re.compile(re.sub(r"\{(\w+)\}", r"(?P<\1>[^/]+)", operation.path)))
    for operation in OPERATIONS
]


class Refusal(Exception):  # noqa: N818 - it never leaves the fake
    """The request is answered with a problem."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.detail)
        self.problem = problem


class Asked(NamedTuple):
    """An operation with the parts of its path and its body."""

    operation: Operation
    path: dict[str, str]
    query: Any
    body: bytes


def find_operation(request: Request) -> Asked:
    """Find what is asked; raises :class:`Refusal` for what the API does not have."""
    for operation, pattern in _PATTERNS:
        match = pattern.fullmatch(request.path)
        if match is not None and operation.method == request.method:
            try:
                query: Any = msgspec.convert(dict(request.query), operation.params, strict=False)
            except msgspec.ValidationError as error:
                raise Refusal(make_problem("unknown_parameter", str(error))) from error
            path = {name: unquote(text) for name, text in match.groupdict().items()}
            return Asked(operation, path, query, request.body or b"")
    raise Refusal(make_problem("not_found", f"there is no {request.method} {request.path}"))


def own_answer(record: Record, stations: Stations, readings: Readings, asked: Asked) -> Any:
    """Answer from the record what can be answered from it; None for all other questions."""
    name, query = asked.operation.name, asked.query
    answer: Any = None
    match name:
        case "tell":
            answer = _single(record.tell(asked.body))
        case "tell_many":
            answer = _batch(record, asked.body, query)
        case "try_events":
            answer = DryRunAnswer(outcomes=_outcomes(record.trial(), asked.body))
        case "feed":
            answer = _feed(record, query)
        case "lots":
            answer = _lots(record, query)
        case "register":
            answer = _register(record, asked.path["register"], query)
        case "whoami":
            answer = Whoami(key="fake", name="fake", role="manager")
        case "live" | "ready":
            answer = Health(status="ok", version="fake")
        case "discrepancies":
            answer = DiscrepancyPage(discrepancies=[], as_of=len(record.events))
        case "drills":
            answer = DrillPage(drills=[])
        case "event" | "lot" | "register_entry":
            answer = _one(record, asked)
        case _:
            answer = _station_answer(stations, asked) or _air_answer(readings, asked)
    return answer


def _air_answer(readings: Readings, asked: Asked) -> Any:
    match asked.operation.name:
        case "tell_readings":
            return _unless_problem(readings.tell(asked.body))
        case "sensors":
            return readings.sensors(asked.query.limit, int(asked.query.cursor or 0))
    return None


def _station_answer(stations: Stations, asked: Asked) -> Any:
    match asked.operation.name:
        case "tell_from_outbox":
            return _counted(_unless_problem(stations.tell(asked.body)))
        case "reserve_codes":
            return _unless_problem(stations.reserve(asked.body))
        case "stations":
            return stations.stations()
        case "code_blocks":
            return stations.blocks()
    return None


def _unless_problem(answer: T | Problem) -> T:
    if isinstance(answer, Problem):
        raise Refusal(answer)
    return answer


def _single(outcome: Outcome) -> Told:
    if isinstance(outcome, Refused):
        raise Refusal(outcome.problem)
    return outcome


def _outcomes(record: Record, body: bytes) -> list[Outcome]:
    try:
        events = msgspec.json.decode(body, type=list[msgspec.Raw])
    except msgspec.MsgspecError as error:
        raise Refusal(make_problem("malformed", str(error))) from error
    if len(events) > MAX_BATCH_EVENTS:
        raise Refusal(make_problem("too_large", f"{len(events)} events in one batch"))
    return [record.tell(bytes(event)) for event in events]


def _batch(record: Record, body: bytes, query: BatchParams) -> BatchAnswer:
    if query.all_or_nothing:
        tried = _outcomes(record.trial(), body)
        if any(isinstance(outcome, Refused) for outcome in tried):
            problem = make_problem("not_told", "another event of the batch was refused")
            return _counted(
                [
                    outcome
                    if isinstance(outcome, Refused) or outcome.replay
                    else Refused(problem=problem, id=str(outcome.id))
                    for outcome in tried
                ]
            )
    return _counted(_outcomes(record, body))


def _counted(outcomes: list[Outcome]) -> BatchAnswer:
    told = [outcome for outcome in outcomes if isinstance(outcome, Told)]
    replayed = sum(outcome.replay for outcome in told)
    return BatchAnswer(
        outcomes=outcomes,
        recorded=len(told) - replayed,
        refused=len(outcomes) - len(told),
        replayed=replayed,
    )


def _feed(record: Record, query: FeedParams) -> FeedPage:
    events = record.events[query.after : query.after + query.limit]
    last = events[-1].seq if events else query.after
    return FeedPage(
        events=events, next_after=last, as_of=len(record.events), more=last < len(record.events)
    )


def _page(entries: list[T], limit: int, cursor: str | None) -> tuple[list[T], str | None]:
    """Part a list; the fake's cursor is simply how many came before."""
    start = int(cursor or 0)
    end = start + limit
    return entries[start:end], str(end) if end < len(entries) else None


def _lots(record: Record, query: LotSearchParams) -> LotPage:
    fitting = [lot for _, lot in sorted(record.lots.items()) if _fits(lot, query)]
    lots, cursor = _page(fitting, query.limit, query.cursor)
    return LotPage(
        lots=[
            LotSummary(
                lot=lot.lot,
                kind=lot.kind,
                state=lot.state,
                site=lot.site,
                product=lot.product,
                made_at=lot.made_at,
                mass_g=lot.made_g,
                count=lot.made_count,
            )
            for lot in lots
        ],
        as_of=len(record.events),
        next_cursor=cursor,
    )


def _fits(lot: LotAnswer, query: LotSearchParams) -> bool:
    day = lot.made_at.date() if lot.made_at else None
    return (
        query.kind in (None, lot.kind)
        and query.product in (None, lot.product)
        and query.site in (None, lot.site)
        and query.state in (None, lot.state)
        and query.held in (None, False)
        and (query.made_from is None or (day is not None and day >= query.made_from))
        and (query.made_to is None or (day is not None and day <= query.made_to))
        and lot.lot.startswith(query.prefix or "")
    )


def _register(record: Record, register: str, query: RegisterParams) -> RegisterPage:
    entries = [entry for (name, _), entry in sorted(record.entries.items()) if name == register]
    page, cursor = _page(entries, query.limit, query.cursor)
    return RegisterPage(entries=page, as_of=len(record.events), next_cursor=cursor)


def _one(record: Record, asked: Asked) -> Any:
    found: Any = None
    match asked.operation.name:
        case "event":
            wanted = UUID(asked.path["event_id"])
            found = next((told for told in record.events if told.event.id == wanted), None)
        case "lot":
            found = record.lots.get(asked.path["lot"])
        case "register_entry":
            found = record.entries.get((asked.path["register"], asked.path["code"]))
    if found is None:
        raise Refusal(make_problem("not_found", f"{'/'.join(asked.path.values())} is not known"))
    return found
