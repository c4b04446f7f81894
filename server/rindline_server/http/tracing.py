"""The handler of traces: one JSON object, NDJSON lines or CSV rows, from one snapshot."""

from contextlib import ExitStack
from typing import Any

from rindline_schema.params import TraceParams
from rindline_schema.problems import make_problem
from rindline_server.http.admission import admit
from rindline_server.http.desk import Asked, Desk
from rindline_server.http.negotiation import entity_tag, preferred_type
from rindline_server.http.queries import read_params
from rindline_server.http.questions import open_trace
from rindline_server.http.replies import (
    JSON,
    Reply,
    StreamedReply,
    encode,
    kept_reply,
    whole_reply,
)
from rindline_server.service import ProblemError

__all__ = ["trace"]

_NDJSON = "application/x-ndjson"
_CSV = "text/csv"
_MEDIA = {"json": JSON, "ndjson": _NDJSON, "csv": _CSV}
_FORMATS = {media: name for name, media in _MEDIA.items()}


async def trace(desk: Desk, asked: Asked, _receive: Any) -> Reply | StreamedReply:
    """Trace a lot, in the form the caller asks for by ``format`` or Accept."""
    return await desk.threads.run(_begin, desk, asked)


def _begin(desk: Desk, asked: Asked) -> Reply | StreamedReply:
    """Open the trace and, if it is asked for whole, answer it; blocking."""
    exchange, path = asked.exchange, asked.path
    caller = admit(desk.service, asked.operation, exchange)
    params = read_params(TraceParams, asked.query)
    media = (
        _MEDIA[params.format]
        if params.format
        else preferred_type(exchange.headers.get(b"accept"), (JSON, _NDJSON, _CSV))
    )
    with ExitStack() as held:
        if media != JSON:
            _take_place(desk, held)
        opened = open_trace(desk.service, caller, path, params)
        held.callback(opened.close)
        # One snapshot of the ledger has one answer to the same question from the same view.
        question = (*path.values(), media, caller.role, str(caller.site), str(caller.partner))
        tag = entity_tag(*(part.encode() for part in question), b"%d" % opened.as_of)
        if (kept := kept_reply(exchange, tag)) is not None:
            return kept
        if media == JSON:
            return whole_reply(exchange, encode(opened.answer()), tag=tag)
        pieces = opened.ndjson() if media == _NDJSON else opened.csv()
        # From here on the reply keeps the snapshot and the place, and gives them back.
        close = held.pop_all().close
    return StreamedReply(
        pieces,
        close,
        desk.threads,
        media=_NDJSON if media == _NDJSON else f"{_CSV}; charset=utf-8; header=present",
        tag=tag,
        stall_s=desk.settings.stall_s,
        filename=f"trace-{path['lot']}-{path['direction']}.{_FORMATS[media]}",
    )


def _take_place(desk: Desk, held: ExitStack) -> None:
    if not desk.streams.acquire(blocking=False):
        raise ProblemError(make_problem("busy", "Too many long answers are being read."))
    held.callback(desk.streams.release)
