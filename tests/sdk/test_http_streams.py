"""Traces streamed over HTTP: whole or an error, and no connection kept."""

import gzip

import httpx
import msgspec
import pytest
import respx

from rindline import (
    CutShortError,
    NotFoundError,
    TransportError,
)
from rindline_schema.answers import (
    EdgeLine,
    EndLine,
    HeadLine,
    LotLine,
)
from rindline_schema.problems import make_problem
from tests.sdk.http_answers import LINES, TRACE_URL, Stream, both, read_trace, refused
from tests.sdk.samples import MAKE, MILK


@both
@respx.mock
def test_a_trace_streams_line_by_line(sort: str) -> None:
    """Cut into parts at odd places and compressed, the lines come out typed and in order."""
    packed = gzip.compress(LINES)
    parts = [packed[i : i + 7] for i in range(0, len(packed), 7)]
    stream = Stream(*parts)
    route = respx.get(TRACE_URL).mock(
        return_value=httpx.Response(200, headers={"content-encoding": "gzip"}, stream=stream)
    )
    lines = read_trace(sort)
    assert [type(line) for line in lines] == [HeadLine, LotLine, LotLine, EdgeLine, EndLine]
    assert [line.lot for line in lines if isinstance(line, LotLine)] == [MILK, MAKE]
    assert route.calls.last.request.url.params["format"] == "ndjson"
    assert stream.closed


@both
@pytest.mark.parametrize("kept", [0, 1, -1, -2, LINES.rindex(b"\n", 0, -1) + 1])
@respx.mock
def test_a_trace_cut_short_is_an_error(sort: str, kept: int) -> None:
    """Without its end line a trace never passes for a whole one, wherever it breaks off."""
    answer = httpx.Response(200, stream=Stream(LINES[:kept]))
    respx.get(TRACE_URL).mock(return_value=answer)
    with pytest.raises(CutShortError, match="end line is missing"):
        read_trace(sort)


@both
@respx.mock
def test_a_connection_lost_in_a_trace_is_an_error(sort: str) -> None:
    """A stream that breaks is not begun again unseen: its first lines were already given."""
    stream = Stream(LINES[:200], httpx.ReadError("reset by peer"))
    route = respx.get(TRACE_URL).mock(return_value=httpx.Response(200, stream=stream))
    with pytest.raises(TransportError, match="lost before the answer was whole"):
        read_trace(sort)
    assert route.call_count == 1
    assert stream.closed


@both
@respx.mock
def test_opening_a_trace_is_retried(sort: str) -> None:
    """A busy server is asked again; its refusals are read and their connections given back."""
    busy = Stream(msgspec.json.encode(make_problem("busy", "full")))
    broken = Stream(b'{"type":', httpx.ReadError("reset by peer"))
    respx.get(TRACE_URL).mock(
        side_effect=[
            httpx.Response(503, stream=busy),
            httpx.Response(503, stream=broken),
            httpx.ConnectError("refused"),
            httpx.Response(200, stream=Stream(LINES)),
        ]
    )
    assert len(read_trace(sort)) == 5
    assert busy.closed
    assert broken.closed


@both
@respx.mock
def test_a_refused_trace_raises_its_problem(sort: str) -> None:
    """Opening a stream reads problems as every call does, and does not retry what is final."""
    route = respx.get(TRACE_URL).mock(return_value=refused("not_found"))
    with pytest.raises(NotFoundError):
        read_trace(sort)
    assert route.call_count == 1
