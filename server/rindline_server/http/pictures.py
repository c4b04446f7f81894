"""The handlers of what is answered as figures or as a picture: a room's climate, a lot's life."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import msgspec

from rindline_schema.answers import ClimateAnswer, ConditionsAnswer
from rindline_schema.params import ClimateParams, ConditionsParams
from rindline_schema.problems import make_problem
from rindline_server.clock import now
from rindline_server.http.admission import admit
from rindline_server.http.desk import Asked, Desk
from rindline_server.http.negotiation import preferred_type
from rindline_server.http.queries import read_params
from rindline_server.http.questions import QUESTIONS
from rindline_server.http.replies import JSON, Reply, encode, whole_reply
from rindline_server.pages import (
    CARD,
    PAPER,
    SCREEN,
    PictureError,
    climate_svg,
    conditions_pages,
    conditions_svg,
    picture_file,
)
from rindline_server.service import Caller, ProblemError

__all__ = ["climate", "conditions"]

_SVG, _PNG, _PDF = "image/svg+xml", "image/png", "application/pdf"
_MEDIA = {"json": JSON, "svg": _SVG, "png": _PNG, "pdf": _PDF}

# At most so long hours can be told apart at the width of a phone; beyond, days read better.
_HOURS_OF_A_ROOM = timedelta(days=35)
_HOURS_OF_A_LIFE = timedelta(days=21)
_USUAL = timedelta(days=28)

_Params = ClimateParams | ConditionsParams
_Ask = Callable[[_Params], Any]


async def climate(desk: Desk, asked: Asked, _receive: Any) -> Reply:
    """Answer the air of a room in the form asked for by ``format`` or Accept."""
    return await desk.threads.run(_answer, desk, asked, ClimateParams, _climate)


async def conditions(desk: Desk, asked: Asked, _receive: Any) -> Reply:
    """Answer the conditions of a lot in the form asked for by ``format`` or Accept."""
    return await desk.threads.run(_answer, desk, asked, ConditionsParams, _conditions)


def _answer(
    desk: Desk,
    asked: Asked,
    kind: type[_Params],
    draw: Callable[[_Ask, Any, str], bytes],
) -> Reply:
    caller: Caller = admit(desk.service, asked.operation, asked.exchange)
    params = read_params(kind, asked.query)
    accept = asked.exchange.headers.get(b"accept")
    media = _MEDIA[params.format] if params.format else preferred_type(accept, [*_MEDIA.values()])

    def ask(wanted: _Params) -> Any:
        question = QUESTIONS[asked.operation.name]
        return question(desk.service, caller, asked.path, wanted)

    if media == JSON:
        return whole_reply(asked.exchange, encode(ask(params)))
    try:
        picture = draw(ask, params, media)
    except PictureError as error:
        raise ProblemError(make_problem("no_picture", str(error))) from error
    return whole_reply(asked.exchange, picture, media=media)


def _climate(ask: _Ask, params: ClimateParams, media: str) -> bytes:
    if params.series == "none":
        until_at = params.until_at or now()
        from_at = params.from_at or until_at - _USUAL
        hours = until_at - from_at <= _HOURS_OF_A_ROOM
        params = msgspec.structs.replace(params, series="hours" if hours else "days")
    told: ClimateAnswer = ask(params)
    if media == _SVG:
        return climate_svg(told, SCREEN).encode()
    title = f"Air of room {told.name}"
    if media == _PNG:
        return picture_file(climate_svg(told, CARD), "png", title)
    return picture_file(climate_svg(told, PAPER), "pdf", title)


def _conditions(ask: _Ask, params: ConditionsParams, media: str) -> bytes:
    told: ConditionsAnswer
    if params.series == "none":
        told = ask(msgspec.structs.replace(params, series="days"))
        longest = max((one.until_at - one.from_at for one in told.paths), default=None)
        if longest is not None and longest <= _HOURS_OF_A_LIFE:
            told = ask(msgspec.structs.replace(params, series="hours"))
    else:
        told = ask(params)
    if media == _SVG:
        return conditions_svg(told, SCREEN).encode()
    title = f"Life of {told.kind} {told.lot}"
    if media == _PNG:
        return picture_file(conditions_svg(told, CARD), "png", title)
    return picture_file(conditions_pages(told), "pdf", title)
