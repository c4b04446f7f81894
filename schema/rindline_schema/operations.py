"""Every operation of the API: one catalogue that server, SDK and OpenAPI document share."""

from typing import Any, NamedTuple

from rindline_schema import params
from rindline_schema.answers import (
    BatchAnswer,
    ClimateAnswer,
    CodeBlock,
    CodeBlockPage,
    CodeBlockRequest,
    ComparisonAnswer,
    ConditionsAnswer,
    DiscrepancyPage,
    DrillAnswer,
    DrillPage,
    DrillRequest,
    DryRunAnswer,
    FeedPage,
    Health,
    LotAnswer,
    LotPage,
    OriginAnswer,
    OutboxBatch,
    ReadingBatch,
    ReadingsAnswer,
    RecordedEvent,
    RegisteredEntry,
    RegisterPage,
    SensorPage,
    StationPage,
    Told,
    TraceAnswer,
    WeightLossAnswer,
    Whoami,
)
from rindline_schema.events import Event
from rindline_schema.labels import LabelContent

__all__ = ["MAX_BATCH_EVENTS", "MAX_BODY_BYTES", "OPERATIONS", "Operation"]

MAX_BATCH_EVENTS = 1_000
MAX_BODY_BYTES = 8 * 1024 * 1024

_ANYONE = frozenset({"nobody", "station", "manager", "auditor", "customer"})
_KEYS = frozenset({"station", "manager", "auditor", "customer"})
_TELLERS = frozenset({"station", "manager"})
_READERS = frozenset({"manager", "auditor"})
_OUR_PEOPLE = frozenset({"station", "manager", "auditor"})
_MANAGER = frozenset({"manager"})

_PICTURES = ("image/svg+xml", "image/png", "application/pdf")

_COMMON = ("malformed", "unknown_parameter", "busy", "internal")


class Operation(NamedTuple):
    """One route: how it is called, what it takes and answers, who may, what can go wrong.

    ``roles`` names who may call it at all; whether they may see the very thing asked for is
    decided by owner, and a thing one may not see answers ``not_found``. ``files`` are the media
    types it can answer with besides JSON.
    """

    name: str
    method: str
    path: str
    summary: str
    roles: frozenset[str]
    answer: Any
    status: int = 200
    params: type = params.NoParams
    body: Any = None
    problems: tuple[str, ...] = ()
    streams: bool = False
    files: tuple[str, ...] = ()

    @property
    def all_problems(self) -> tuple[str, ...]:
        """The codes of every problem this operation can answer with."""
        codes = [*_COMMON, *self.problems]
        if self.roles != _ANYONE:
            codes += ["unauthorized", "forbidden"]
        if self.body is not None:
            codes += ["wrong_content_type", "too_large", "request_timeout", "stopping"]
        return tuple(dict.fromkeys(codes))


_REFUSALS = (
    "not_valid",
    "id_reused",
    "ahead_of_clock",
    "not_your_site",
    "not_declared",
    "nature_changed",
    "lot_exists",
    "not_enough",
    "not_here",
    "before_it_existed",
    "lot_held",
    "not_held",
    "wrong_kind",
    "places_overlap",
    "already_corrected",
    "correction_in_the_way",
    "no_such_discrepancy",
)

OPERATIONS: tuple[Operation, ...] = (
    Operation(
        "tell",
        "POST",
        "/v1/events",
        "Tell one event.",
        _TELLERS,
        Told,
        status=201,
        body=Event,
        problems=_REFUSALS,
    ),
    Operation(
        "tell_many",
        "POST",
        "/v1/events/batch",
        "Tell up to 1,000 events; an outcome for each.",
        _TELLERS,
        BatchAnswer,
        params=params.BatchParams,
        body=list[Event],
    ),
    Operation(
        "try_events",
        "POST",
        "/v1/events/dry-run",
        "Ask what telling these events would answer; nothing is recorded.",
        _TELLERS,
        DryRunAnswer,
        body=list[Event],
    ),
    Operation(
        "feed",
        "GET",
        "/v1/events",
        "Read recorded events in ledger order.",
        _READERS,
        FeedPage,
        params=params.FeedParams,
    ),
    Operation(
        "event",
        "GET",
        "/v1/events/{event_id}",
        "Read one recorded event.",
        _OUR_PEOPLE,
        RecordedEvent,
        problems=("not_found",),
    ),
    Operation(
        "lots",
        "GET",
        "/v1/lots",
        "Search lots.",
        _OUR_PEOPLE,
        LotPage,
        params=params.LotSearchParams,
        problems=("bad_cursor",),
    ),
    Operation(
        "lot",
        "GET",
        "/v1/lots/{lot}",
        "Read one lot.",
        _KEYS,
        LotAnswer,
        params=params.AsOfParams,
        problems=("not_found",),
    ),
    Operation(
        "origin",
        "GET",
        "/v1/lots/{lot}/origin",
        "Where a lot came from, with its share of each milk delivery.",
        _KEYS,
        OriginAnswer,
        problems=("not_found",),
    ),
    Operation(
        "trace",
        "GET",
        "/v1/lots/{lot}/trace/{direction}",
        "Trace a lot back or forward: lots, edges with grams, who holds what.",
        _READERS,
        TraceAnswer,
        params=params.TraceParams,
        problems=("not_found",),
        streams=True,
    ),
    Operation(
        "label",
        "GET",
        "/v1/lots/{lot}/label",
        "A lot's label: what it says as JSON, or drawn as SVG, PNG or PDF.",
        _OUR_PEOPLE,
        LabelContent,
        params=params.LabelParams,
        problems=("not_found", "no_label"),
        files=_PICTURES,
    ),
    Operation(
        "discrepancies",
        "GET",
        "/v1/discrepancies",
        "List what does not fit together.",
        _READERS,
        DiscrepancyPage,
        params=params.DiscrepancyParams,
        problems=("bad_cursor",),
    ),
    Operation(
        "register",
        "GET",
        "/v1/registers/{register}",
        "List a register: site, room, sensor, tool, partner or product.",
        _OUR_PEOPLE,
        RegisterPage,
        params=params.RegisterParams,
        problems=("bad_cursor", "not_found"),
    ),
    Operation(
        "register_entry",
        "GET",
        "/v1/registers/{register}/{code}",
        "Read one register entry.",
        _OUR_PEOPLE,
        RegisteredEntry,
        problems=("not_found",),
    ),
    Operation(
        "start_drill",
        "POST",
        "/v1/drills",
        "Run a recall drill from any lots and keep its answer.",
        _MANAGER,
        DrillAnswer,
        status=201,
        body=DrillRequest,
        problems=("not_found", "not_valid", "id_reused"),
    ),
    Operation(
        "drills",
        "GET",
        "/v1/drills",
        "List drills, newest first.",
        _READERS,
        DrillPage,
        params=params.PageParams,
        problems=("bad_cursor",),
    ),
    Operation(
        "drill",
        "GET",
        "/v1/drills/{drill_id}",
        "Read a drill that was run.",
        _READERS,
        DrillAnswer,
        problems=("not_found",),
    ),
    Operation(
        "tell_from_outbox",
        "POST",
        "/v1/outbox",
        "Tell what a station's outbox holds, with numbers and ages; an outcome for each event.",
        _TELLERS,
        BatchAnswer,
        body=OutboxBatch,
    ),
    Operation(
        "stations",
        "GET",
        "/v1/stations",
        "List the stations: when each last spoke, which numbers are missing, its clock.",
        _READERS,
        StationPage,
        params=params.PageParams,
        problems=("bad_cursor",),
    ),
    Operation(
        "reserve_codes",
        "POST",
        "/v1/code-blocks",
        "Reserve a block of lot codes, to be stamped without a network.",
        _TELLERS,
        CodeBlock,
        status=201,
        body=CodeBlockRequest,
        problems=("not_valid", "id_reused", "not_your_site", "not_declared"),
    ),
    Operation(
        "code_blocks",
        "GET",
        "/v1/code-blocks",
        "List the blocks of lot codes: stamped, heard of, unheard of, unused.",
        _READERS,
        CodeBlockPage,
        params=params.PageParams,
        problems=("bad_cursor",),
    ),
    Operation(
        "tell_readings",
        "POST",
        "/v1/readings",
        "Tell up to 10,000 readings of sensors; each is recorded once.",
        _TELLERS,
        ReadingsAnswer,
        body=ReadingBatch,
    ),
    Operation(
        "sensors",
        "GET",
        "/v1/sensors",
        "List the sensors: where they hang, what they showed last, what is in doubt.",
        _OUR_PEOPLE,
        SensorPage,
        params=params.PageParams,
        problems=("bad_cursor",),
    ),
    Operation(
        "climate",
        "GET",
        "/v1/rooms/{room}/climate",
        "The air of a room over a time, as figures or as a picture.",
        _OUR_PEOPLE,
        ClimateAnswer,
        params=params.ClimateParams,
        problems=("not_found", "no_picture"),
        files=_PICTURES,
    ),
    Operation(
        "conditions",
        "GET",
        "/v1/lots/{lot}/conditions",
        "The conditions a lot lived in from hooping on, as figures or as a picture.",
        _KEYS,
        ConditionsAnswer,
        params=params.ConditionsParams,
        problems=("not_found", "no_picture"),
        files=_PICTURES,
    ),
    Operation(
        "weight_loss",
        "GET",
        "/v1/lots/{lot}/weight-loss",
        "How a wheel, or each wheel of a make, lost weight, beside the past.",
        _OUR_PEOPLE,
        WeightLossAnswer,
        problems=("not_found",),
    ),
    Operation(
        "comparison",
        "GET",
        "/v1/comparison",
        "Makes, rooms or shelves side by side, and what sets well judged wheels apart.",
        _READERS,
        ComparisonAnswer,
        params=params.ComparisonParams,
    ),
    Operation("whoami", "GET", "/v1/key", "Read what this key may do.", _KEYS, Whoami),
    Operation("live", "GET", "/health/live", "Does the server live?", _ANYONE, Health),
    Operation("ready", "GET", "/health/ready", "Can the server serve?", _ANYONE, Health),
)
"""The operations, each with a row in the tested matrix of who may do what."""
