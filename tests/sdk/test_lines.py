"""Reading a streamed trace: any cutting into parts, nothing lost unseen."""

from itertools import pairwise

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline import CutShortError, UnexpectedAnswerError
from rindline._answers import LineReader
from rindline_schema.answers import EdgeLine, EndLine, HeadLine, LotLine, TraceLine
from tests.sdk.samples import MAKE, MILK, WHEEL

_HEAD = HeadLine(lot=MILK, direction="forward", as_of=4)


def _written(lines: list[TraceLine]) -> bytes:
    return b"".join(msgspec.json.encode(line) + b"\n" for line in lines)


def _read(data: bytes, cuts: list[int]) -> list[TraceLine]:
    reader = LineReader()
    places = [0, *sorted(cut % (len(data) + 1) for cut in cuts), len(data)]
    lines: list[TraceLine] = []
    for start, end in pairwise(places):
        lines += reader.read(data[start:end])
    reader.finish()
    return lines


_BODY = st.lists(
    st.one_of(
        st.builds(
            LotLine,
            lot=st.sampled_from([MILK, MAKE, WHEEL]),
            kind=st.just("wheel"),
            state=st.just("on_hand"),
            steps=st.integers(0, 9),
            product=st.text(max_size=5),
        ),
        st.builds(EdgeLine, parent=st.just(MILK), child=st.just(MAKE), mass_g=st.integers(0, 9)),
    ),
    max_size=20,
)


def _whole(body: list[TraceLine]) -> list[TraceLine]:
    lots = sum(isinstance(line, LotLine) for line in body)
    return [_HEAD, *body, EndLine(lots=lots, edges=len(body) - lots, counts=[])]


@given(body=_BODY, cuts=st.lists(st.integers(0, 10_000), max_size=12))
def test_lines_survive_any_cutting(body: list[TraceLine], cuts: list[int]) -> None:
    """Wherever the parts of a stream begin and end, the same lines come out."""
    lines = _whole(body)
    assert _read(_written(lines), cuts) == lines


@given(body=_BODY.filter(bool), data=st.data())
def test_a_lost_line_is_noticed(body: list[TraceLine], data: st.DataObject) -> None:
    """The end line counts: a stream that lost a line in the middle is not taken for whole."""
    lines = _whole(body)
    del lines[data.draw(st.integers(1, len(body)))]
    with pytest.raises(CutShortError, match="lost lines"):
        _read(_written(lines), [])


@given(body=_BODY, data=st.data())
def test_a_stream_cut_anywhere_is_noticed(body: list[TraceLine], data: st.DataObject) -> None:
    """Whatever part of the stream came, only the whole of it passes for whole."""
    written = _written(_whole(body))
    kept = data.draw(st.integers(0, len(written) - 1))
    with pytest.raises(CutShortError, match="end line is missing"):
        _read(written[:kept], [])


def test_nothing_may_follow_the_end() -> None:
    """Lines after the end line are no part of the trace that was asked for."""
    with pytest.raises(UnexpectedAnswerError, match="after its end line"):
        _read(_written([*_whole([]), _HEAD]), [])


def test_what_is_no_line_is_refused() -> None:
    """Text among the lines, such as a proxy's, is not skipped."""
    with pytest.raises(UnexpectedAnswerError, match="cannot be read"):
        _read(_written([_HEAD]) + b"oops\n", [])
