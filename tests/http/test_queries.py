"""Query parameters."""

import pytest

from rindline_schema.params import FeedParams, LotSearchParams, NoParams
from rindline_server.http.queries import read_params
from rindline_server.service import ProblemError


def _faults(kind: type, query: bytes) -> dict[str, str]:
    with pytest.raises(ProblemError) as caught:
        read_params(kind, query)
    assert caught.value.problem.code == "unknown_parameter"
    return {fault.pointer: fault.detail for fault in caught.value.problem.faults}


def test_parameters_become_what_they_stand_for() -> None:
    """Texts in the address become numbers, truth values and dates."""
    params = read_params(LotSearchParams, b"limit=5&held=true&made_from=2026-02-01&kind=wheel")
    assert (params.limit, params.held, str(params.made_from), params.kind) == (
        5,
        True,
        "2026-02-01",
        "wheel",
    )
    assert read_params(FeedParams, b"") == FeedParams()


def test_all_faults_of_a_query_are_told_at_once() -> None:
    """Unknown, repeated and impossible parameters are all named, each by its own name."""
    found = _faults(LotSearchParams, b"limit=0&colour=blue&kind=wheel&kind=milk&site=qm&held=maybe")
    assert set(found) == {"limit", "colour", "kind", "site", "held"}
    assert found["colour"] == "Not a known parameter"
    assert found["kind"] == "Given more than once"


@pytest.mark.parametrize(
    "query", [b"x=%ff", b"x=\xc3\xa4", b"&".join(b"a%d=1" % i for i in range(60))]
)
def test_a_query_that_cannot_be_read_is_refused(query: bytes) -> None:
    """No guessing at bytes that are no text, and no end of parameters."""
    assert _faults(NoParams, query) == {"": "The query can't be read"}


def test_no_parameters_means_none() -> None:
    """An operation without parameters refuses every one."""
    assert _faults(NoParams, b"verbose=1&q=") == {
        "verbose": "Not a known parameter",
        "q": "Not a known parameter",
    }


@pytest.mark.parametrize("query", [b"held=null", b"held=Null", b"cursor=&made_to=null"])
def test_null_is_no_value(query: bytes) -> None:
    """A parameter that is not meant is left out, not called null."""
    assert set(_faults(LotSearchParams, query)) <= {"held", "made_to"}
