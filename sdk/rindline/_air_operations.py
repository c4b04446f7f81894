"""The operations about the air of rooms, as pure builders: arguments in, a call out."""

from collections.abc import Iterable, Iterator
from datetime import date, datetime
from typing import Literal, TypeAlias, TypedDict

import msgspec

from rindline._answers import refuse_unless_ok
from rindline._calls import build_call, build_params, build_request, checked, checked_lot
from rindline._wire import Call, Request, Response
from rindline.errors import InvalidInputError, UnexpectedAnswerError
from rindline_schema import params
from rindline_schema.answers import (
    ClimateAnswer,
    ComparisonAnswer,
    ConditionsAnswer,
    Reading,
    ReadingsAnswer,
    SensorPage,
    WeightLossAnswer,
)
from rindline_schema.answers.readings import MAX_READINGS
from rindline_schema.operations import MAX_BODY_BYTES
from rindline_schema.quantities import Code

__all__ = ["ClimateSpan", "ComparisonChoice", "PictureFormat", "Series", "reading_body"]

PictureFormat: TypeAlias = Literal["svg", "png", "pdf"]
Series: TypeAlias = Literal["none", "hours", "days"]

_MEDIA = {"svg": "image/svg+xml", "png": "image/png", "pdf": "application/pdf"}
_HEAD, _TAIL = b'{"readings":[', b"]}"
_MOST_BYTES = MAX_BODY_BYTES - len(_HEAD) - len(_TAIL)


class ClimateSpan(TypedDict, total=False):
    """Which time: to now and from 28 days before, unless said; times with their offset.

    ``base_c`` is the base of the degree-hours, if not the server's.
    """

    from_at: datetime | None
    until_at: datetime | None
    base_c: float | None


class ComparisonChoice(TypedDict, total=False):
    """Which wheels: of a product, made on these days; ``well`` and ``badly`` name grades."""

    product: str | None
    made_from: date | None
    made_to: date | None
    well: str | Iterable[str] | None
    badly: str | Iterable[str] | None


def reading_body(readings: Iterable[bytes]) -> bytes:
    """Give the body that tells some encoded readings."""
    return _HEAD + b",".join(readings) + _TAIL


def readings_in_batches(readings: Iterable[Reading]) -> Iterator[list[bytes]]:
    """Encode readings and part them into batches the server takes."""
    batch: list[bytes] = []
    size = 0
    for reading in readings:
        line = msgspec.json.encode(reading)
        if batch and (len(batch) == MAX_READINGS or size + len(line) + 1 > _MOST_BYTES):
            yield batch
            batch, size = [], 0
        batch.append(line)
        size += len(line) + 1
    if batch:
        yield batch


def tell_readings(batch: list[bytes]) -> Call[ReadingsAnswer]:
    """Tell some encoded readings, at most as many as a batch may hold."""
    return build_call("tell_readings", ReadingsAnswer, body=reading_body(batch))


def sensors(limit: int, cursor: str | None) -> Call[SensorPage]:
    """List sensors, one page."""
    query = build_params(params.PageParams, limit=limit, cursor=cursor)
    return build_call("sensors", SensorPage, query=query)


def climate(room: str, series: Series, span: ClimateSpan) -> Call[ClimateAnswer]:
    """Read the air of a room."""
    query = build_params(params.ClimateParams, series=series, **span)
    return build_call("climate", ClimateAnswer, _room(room), query=query)


def climate_picture(room: str, fmt: PictureFormat, span: ClimateSpan) -> Call[bytes]:
    """Draw the air of a room."""
    _known_format(fmt)
    query = build_params(params.ClimateParams, format=fmt, **span)
    return _picture(build_request("climate", _room(room), query, None), fmt)


def conditions(lot: str, series: Series, base_c: float | None) -> Call[ConditionsAnswer]:
    """Read the conditions a lot lived in."""
    query = build_params(params.ConditionsParams, series=series, base_c=base_c)
    return build_call("conditions", ConditionsAnswer, {"lot": checked_lot(lot)}, query=query)


def conditions_picture(lot: str, fmt: PictureFormat, base_c: float | None) -> Call[bytes]:
    """Draw the conditions a lot lived in."""
    _known_format(fmt)
    query = build_params(params.ConditionsParams, format=fmt, base_c=base_c)
    return _picture(build_request("conditions", {"lot": checked_lot(lot)}, query, None), fmt)


def weight_loss(lot: str) -> Call[WeightLossAnswer]:
    """Read how a wheel, or the wheels of a make, lost weight."""
    return build_call("weight_loss", WeightLossAnswer, {"lot": checked_lot(lot)})


def comparison(by: str, choice: ComparisonChoice) -> Call[ComparisonAnswer]:
    """Compare makes, rooms or shelves."""
    query = build_params(
        params.ComparisonParams,
        by=by,
        product=choice.get("product"),
        made_from=choice.get("made_from"),
        made_to=choice.get("made_to"),
        well=_grades(choice.get("well")),
        badly=_grades(choice.get("badly")),
    )
    return build_call("comparison", ComparisonAnswer, query=query)


def _room(code: str) -> dict[str, str]:
    return {"room": checked(code, Code, "room")}


def _grades(named: str | Iterable[str] | None) -> str | None:
    return named if named is None or isinstance(named, str) else ",".join(named)


def _known_format(fmt: str) -> None:
    if fmt not in _MEDIA:
        raise InvalidInputError(f"A picture is svg, png or pdf, not {fmt!r}.")


def _picture(request: Request, fmt: PictureFormat) -> Call[bytes]:
    media = _MEDIA[fmt]

    def parse(response: Response) -> bytes:
        refuse_unless_ok(response)
        got = response.headers.get("content-type", "").partition(";")[0].strip()
        if got != media:
            raise UnexpectedAnswerError(
                f"The answer is {got or 'of no stated type'} and not {media}: check the server's "
                "address, and that server and SDK are of versions that fit."
            )
        return response.body

    headers = {"accept": f"{media}, application/problem+json"}
    return Call(Request(request.method, request.path, request.query, None, headers), parse)
