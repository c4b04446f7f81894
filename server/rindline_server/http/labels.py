"""The handler of labels: what one says as JSON, or drawn as a file."""

from typing import Any

from rindline_schema.params import LabelParams
from rindline_server.http.admission import admit
from rindline_server.http.desk import Asked, Desk
from rindline_server.http.negotiation import preferred_type
from rindline_server.http.queries import read_params
from rindline_server.http.questions import lot_in
from rindline_server.http.replies import JSON, Reply, encode, whole_reply
from rindline_server.service import LabelFormat

__all__ = ["label"]

_FILES: dict[str, LabelFormat] = {
    "image/svg+xml": "svg",
    "image/png": "png",
    "application/pdf": "pdf",
}
_MEDIA: dict[str, str] = {"json": JSON, **{name: media for media, name in _FILES.items()}}


async def label(desk: Desk, asked: Asked, _receive: Any) -> Reply:
    """Answer a lot's label in the form asked for by ``format`` or Accept."""
    return await desk.threads.run(_label, desk, asked)


def _label(desk: Desk, asked: Asked) -> Reply:
    caller = admit(desk.service, asked.operation, asked.exchange)
    params = read_params(LabelParams, asked.query)
    accept = asked.exchange.headers.get(b"accept")
    media = _MEDIA[params.format] if params.format else preferred_type(accept, (JSON, *_FILES))
    content = desk.service.label(caller, lot_in(asked.path))
    if media == JSON:
        return whole_reply(asked.exchange, encode(content))
    drawn = desk.service.draw_label(content, _FILES[media], params)
    return whole_reply(asked.exchange, drawn, media=media)
