"""Bodies: what is malformed, and that all of it is told at once."""

import json
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline_schema.answers import Refused
from rindline_schema.events import Event
from rindline_server.http.decoding import decode_event, decode_events
from rindline_server.http.faults import MOST_FAULTS, faults_in
from rindline_server.http.openapi.event_examples import EVENT_EXAMPLES
from rindline_server.service import ProblemError

_MOVE = msgspec.to_builtins(EVENT_EXAMPLES["move"])


def _pointers(body: bytes) -> dict[str, str]:
    with pytest.raises(ProblemError) as caught:
        decode_event(body)
    assert caught.value.problem.code == "malformed"
    return {fault.pointer: fault.detail for fault in caught.value.problem.faults}


def _move(**changes: Any) -> bytes:
    return json.dumps({**_MOVE, **changes}).encode()


@pytest.mark.parametrize("kind", EVENT_EXAMPLES)
def test_a_well_formed_event_is_decoded(kind: str) -> None:
    """Every kind of event comes out of its JSON as it went in."""
    event = EVENT_EXAMPLES[kind]
    assert decode_event(msgspec.json.encode(event)) == event


def test_all_faults_are_told_at_once() -> None:
    """One answer lists every fault of a body, each with its place; order is the body's."""
    found = _pointers(
        _move(id="x", at="2026-02-01T10:00:00", lots=["qm", 3], room="Cave 1", shelff="A")
    )
    assert list(found) == ["/id", "/at", "/lots/0", "/lots/1", "/room", "/shelff"]
    assert "timezone" in found["/at"]
    assert found["/shelff"] == "Not a known field"


def test_faults_inside_a_replacement_have_their_whole_path() -> None:
    """A correction's replacement is an event of its own kind, and is looked through as one."""
    body = msgspec.to_builtins(EVENT_EXAMPLES["correct"])
    body["replacement"] |= {"mass_g": -1, "lot": 5}
    assert set(_pointers(json.dumps(body).encode())) == {"/replacement/mass_g", "/replacement/lot"}


def test_a_pointer_escapes_what_it_must() -> None:
    """Tilde and slash in a name are written as RFC 6901, section 3, says."""
    assert "/a~1b~0c" in _pointers(_move(**{"a/b~c": 1}))


@pytest.mark.parametrize(
    ("body", "pointer", "says"),
    [
        (b"", "", "truncated"),
        (b"{", "", "truncated"),
        (b'{"type":"move"} x', "", "trailing"),
        (b"[" * 100_000, "", "Nested too deep"),
        (b'{"id":' + b"[" * 100_000, "", "Nested too deep"),
        (b'"\xff"', "", "Not UTF-8"),
        (b"null", "", "Expected `object`"),
        (b"{}", "/type", "Missing"),
        (b'{"type":"mooove"}', "/type", "None of"),
        (b'{"type":7}', "/type", "None of"),
    ],
    ids=["empty", "cut", "more", "array", "deep", "bytes", "null", "bare", "kind", "tag"],
)
def test_what_is_no_event_is_refused(body: bytes, pointer: str, says: str) -> None:
    """Each way of being no event at all gives one fault in plain words."""
    found = _pointers(body)
    assert set(found) == {pointer}
    assert says in found[pointer]


@pytest.mark.parametrize(
    ("text", "pointer"),
    [
        ('"note": NaN', ""),
        ('"note": Infinity', ""),
        ('"note": "\\ud800"', "/note"),
        ('"note": "\\udc00 after"', "/note"),
        ('"note": "a\\u0000b"', "/note"),
        ('"room": "RIPE-1\\n"', "/room"),
        ('"room": "RIPE-2"', "/room"),
        ('"lots": [], "lots": ["x"]', "/lots"),
    ],
    ids=["nan", "infinity", "high", "low", "nul", "newline", "twice", "twice-list"],
)
def test_json_that_readers_take_differently_is_refused(text: str, pointer: str) -> None:
    """No NaN, no half surrogate pairs, no control characters, no name twice (RFC 8259, s. 4)."""
    body = json.dumps(_MOVE)[:-1] + ", " + text + "}"
    assert pointer in _pointers(body.encode())


@pytest.mark.parametrize("number", ["1e400", "-1e400", "1e999999", "9" * 400])
def test_numbers_out_of_range_are_refused(number: str) -> None:
    """A number no computer holds is a fault, not an infinity."""
    body = json.dumps({**msgspec.to_builtins(EVENT_EXAMPLES["receive"]), "temperature_c": 0})
    assert "/temperature_c" in _pointers(
        body.replace('"temperature_c": 0', f'"temperature_c": {number}').encode()
    )


def test_in_a_batch_only_the_malformed_are_refused() -> None:
    """Each malformed event becomes a refusal at its place; the others stand."""
    good = json.dumps(_MOVE)
    body = f'[{good}, {{"id": "a", "type": "move"}}, 7, {good}, {good[:-1]}, "room": "B"}}]'
    told = decode_events(body.encode())
    assert [isinstance(one, Refused) for one in told] == [False, True, True, False, True]
    named = told[1]
    assert isinstance(named, Refused)
    assert named.id == "a"
    assert {fault.pointer for fault in named.problem.faults} == {"/id", "/at", "/lots", "/room"}
    twice = told[4]
    assert isinstance(twice, Refused)
    assert [fault.pointer for fault in twice.problem.faults] == ["/room"]


@pytest.mark.parametrize("body", [b"{}", b"[", b"[1,]", b"[NaN]", b"[" * 100_000])
def test_a_batch_that_is_no_array_is_refused_whole(body: bytes) -> None:
    """What can't be taken apart into events has no places for outcomes."""
    with pytest.raises(ProblemError) as caught:
        decode_events(body)
    assert caught.value.problem.code == "malformed"


@pytest.mark.parametrize("element", [b"1", msgspec.json.encode(EVENT_EXAMPLES["move"])])
def test_a_batch_has_at_most_a_thousand_events(element: bytes) -> None:
    """A thousand are taken; one more is too large, well formed or not."""
    assert len(decode_events(b"[" + b",".join([element] * 1000) + b"]")) == 1000
    with pytest.raises(ProblemError) as caught:
        decode_events(b"[" + b",".join([element] * 1001) + b"]")
    assert caught.value.problem.code == "too_large"


def test_the_list_of_faults_has_an_end() -> None:
    """A body with thousands of faults is answered with the first hundred."""
    assert len(_pointers(_move(**{f"x{i}": i for i in range(5000)}))) == MOST_FAULTS
    told = decode_events(json.dumps([{"type": "move"}] * 900).encode())
    shown = [len(one.problem.faults) for one in told if isinstance(one, Refused)]
    assert len(shown) == 900
    assert sum(shown) < MOST_FAULTS + 4 + 900


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=5,
)


@st.composite
def _nearly_events(draw: st.DrawFn) -> Any:
    """Take an example and put odd values into a few of its places."""
    event = msgspec.to_builtins(EVENT_EXAMPLES[draw(st.sampled_from(sorted(EVENT_EXAMPLES)))])
    for _ in range(draw(st.integers(0, 3))):
        part: Any = event
        while isinstance(part, dict | list) and part:
            keys = sorted(part) if isinstance(part, dict) else list(range(len(part)))
            key = draw(st.sampled_from(keys))
            if draw(st.booleans()) or not isinstance(part[key], dict | list):
                part[key] = draw(_JSON)
                break
            part = part[key]
    return event


@given(_nearly_events())
def test_the_search_for_faults_agrees_with_the_decoder(value: Any) -> None:
    """There are faults to tell exactly if msgspec refuses the value."""
    try:
        msgspec.convert(value, Event)
        well_formed = True
    except msgspec.ValidationError:
        well_formed = False
    assert (faults_in(value, Event) == []) is well_formed
